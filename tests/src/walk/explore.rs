//! Every state of the replacement, each with the states in which the original may be.
use std::collections::{BTreeMap, BTreeSet, HashSet, VecDeque};
use std::rc::Rc;

use super::asked::{Found, Sequence};
use super::joint::{Joint, Trace};
use super::settle::State;

impl Joint<'_> {
    pub(super) fn explore(&mut self) -> Found {
        type Key = (Vec<bool>, State, Rc<BTreeSet<State>>);
        let mut parents: Vec<(Option<usize>, Vec<bool>)> = Vec::new();
        let mut visited: HashSet<Key> = HashSet::new();
        let mut queue: VecDeque<(Key, usize)> = VecDeque::new();
        for code in 0..1u64 << self.read.len() {
            let mut levels = vec![false; self.labels.len()];
            for (k, &i) in self.read.iter().enumerate() {
                levels[i] = (code >> k) & 1 == 1;
            }
            if !self.allowed(&levels) {
                continue;
            }
            if self.is_late() {
                return Found::TooLarge;
            }
            let mut by_trace: BTreeMap<Trace, BTreeSet<State>> = BTreeMap::new();
            for (trace, state) in self.awake(0, &levels, &|_| None) {
                if let Some(state) = state {
                    by_trace.entry(trace).or_default().insert(state);
                }
            }
            let by_trace: BTreeMap<Trace, Rc<BTreeSet<State>>> =
                by_trace.into_iter().map(|(t, s)| (t, Rc::new(s))).collect();
            for (trace, state) in self.awake(1, &levels, &|_| None) {
                let Some(state) = state else { return Found::Restless };
                parents.push((None, levels.clone()));
                let Some(same) = by_trace.get(&trace) else {
                    return Found::Differs(self.sequence(&parents, parents.len() - 1));
                };
                let key = (levels.clone(), state, Rc::clone(same));
                if visited.insert(key.clone()) {
                    queue.push_back((key, parents.len() - 1));
                }
            }
        }
        let mut restless = false;
        while let Some(((levels, r, set), at)) = queue.pop_front() {
            if self.is_late() {
                return Found::TooLarge;
            }
            for next in self.events(&levels) {
                if !self.does(&r, &levels, &next) {
                    continue;
                }
                for (trace, state) in self.step(1, &r, &levels, &next).iter() {
                    let Some(state) = state else {
                        restless = true;
                        continue;
                    };
                    parents.push((Some(at), next.clone()));
                    let same = self.follow(&set, trace, &levels, &next);
                    if same.is_empty() {
                        return Found::Differs(self.sequence(&parents, parents.len() - 1));
                    }
                    let key = (next.clone(), state.clone(), Rc::new(same));
                    if visited.insert(key.clone()) {
                        if visited.len() > self.walk.most {
                            return Found::TooLarge;
                        }
                        queue.push_back((key, parents.len() - 1));
                    } else {
                        parents.pop();
                    }
                }
            }
        }
        if restless { Found::Restless } else { Found::Refines(visited.len()) }
    }

    fn sequence(&self, parents: &[(Option<usize>, Vec<bool>)], last: usize) -> Sequence {
        let mut path = Vec::new();
        let mut at = Some(last);
        while let Some(i) = at {
            path.push(parents[i].1.clone());
            at = parents[i].0;
        }
        path.reverse();
        let named = |i: usize, high: bool| (self.labels[i].clone(), high);
        let levels = self.read.iter().map(|&i| named(i, path[0][i])).collect();
        let events = path
            .windows(2)
            .map(|w| (0..w[0].len()).filter(|&i| w[0][i] != w[1][i]).map(|i| named(i, w[1][i])).collect())
            .collect();
        Sequence { levels, events }
    }

    /// What stands when a critical race was met: more of the original's outcomes may explain more, and the
    /// replacement may do more than was tried.
    pub(super) fn judge(&self, found: Found) -> Found {
        match found {
            Found::Differs(_) if self.sides[0].is_open() => Found::Race("original"),
            Found::Refines(_) if self.sides[1].is_open() => Found::Race("replacement"),
            found => found,
        }
    }
}
