//! Both circuits side by side: the levels at their contacts, and what can come of an event on each.
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;
use std::time::Instant;

use gluewright::circuit::{Label, Pull};

use super::asked::Walk;
use super::settle::{Shown, Side, State};
use super::side::Outcome;

/// One contact's levels over an event, without repetitions: 0 low, 1 high, 2 floating, 3 and 4 floating where the two
/// sides pull differently.
pub(super) type Trace = Vec<Vec<u8>>;

/// What the contacts can show, and where that ends: nowhere if it does not come to rest.
pub(super) type Outcomes = Vec<(Trace, Option<State>)>;

/// What was found out before of a side in a state, with these levels before and after.
type Cache = HashMap<(State, Vec<bool>, Vec<bool>), Rc<Outcomes>>;

/// Both circuits, and what was found out of each.
pub(super) struct Joint<'c> {
    pub(super) walk: Walk<'c>,
    pub(super) sides: [Side<'c>; 2],
    pub(super) labels: Vec<Label>,
    /// The contact of a label on each side.
    contacts: Vec<[Option<usize>; 2]>,
    pub(super) read: Vec<usize>,
    cache: [Cache; 2],
}

impl<'c> Joint<'c> {
    pub(super) fn new(walk: Walk<'c>) -> Self {
        let circuits = [walk.original, walk.replacement];
        let sides = circuits.map(Side::new);
        let labels: BTreeSet<Label> =
            circuits.iter().flat_map(|c| c.contacts().iter().map(|c| c.label.clone())).collect();
        let labels: Vec<Label> = labels.into_iter().collect();
        let contacts: Vec<[Option<usize>; 2]> =
            labels.iter().map(|l| circuits.map(|c| c.find_contact(l).map(|c| c.index()))).collect();
        let reads = [0, 1].map(|s| sides[s].reads());
        let is_read = |c: &[Option<usize>; 2]| (0..2).any(|s| c[s].is_some_and(|c| reads[s].contains(&c)));
        let is_named = |l: &Label| walk.named.contains(l) || walk.together.iter().any(|g| g.contains(l));
        let read = (0..labels.len()).filter(|&i| is_read(&contacts[i]) || is_named(&labels[i])).collect();
        Joint { walk, sides, labels, contacts, read, cache: Default::default() }
    }

    pub(super) fn allowed(&self, levels: &[bool]) -> bool {
        (self.walk.allowed)(&|label| self.labels.iter().position(|l| l.as_str() == label).is_some_and(|i| levels[i]))
    }

    pub(super) fn is_late(&self) -> bool {
        self.walk.until.is_some_and(|t| Instant::now() > t)
    }

    fn outside(&self, side: usize, levels: &[bool]) -> Vec<bool> {
        let mut outside = vec![false; self.sides[side].circuit.contacts().len()];
        for (c, &level) in self.contacts.iter().zip(levels) {
            if let Some(c) = c[side] {
                outside[c] = level;
            }
        }
        outside
    }

    fn trace(&self, side: usize, views: &[&Shown]) -> Trace {
        let of = |contact: &[Option<usize>; 2]| {
            let pulls = [0, 1].map(|s| contact[s].map_or(Pull::None, |c| self.sides[s].pull(c)));
            let floats = if pulls[0] == pulls[1] { 2 } else { 3 + side as u8 };
            let mut seen: Vec<u8> = Vec::new();
            for v in views {
                seen.push(match contact[side].map_or((false, false), |c| v[c]) {
                    (false, _) => floats,
                    (true, high) => u8::from(high),
                });
            }
            seen.dedup();
            seen
        };
        self.contacts.iter().map(of).collect()
    }

    pub(super) fn awake(&self, side: usize, levels: &[bool], held: &dyn Fn(&str) -> Option<bool>) -> Outcomes {
        let outside = self.outside(side, levels);
        let woken = self.sides[side].wake(&outside, held);
        let shown = |o: &Outcome| {
            o.state.as_ref().map(|s| self.trace(side, &[&self.sides[side].shown_at(s, &outside)])).unwrap_or_default()
        };
        woken.into_iter().map(|o| (shown(&o), o.state)).collect()
    }

    pub(super) fn step(&mut self, side: usize, from: &State, was: &[bool], now: &[bool]) -> Rc<Outcomes> {
        let (was, now) = (self.outside(side, was), self.outside(side, now));
        let key = (from.clone(), was, now);
        if let Some(known) = self.cache[side].get(&key) {
            return Rc::clone(known);
        }
        let s = &self.sides[side];
        let before = s.shown_at(from, &key.1);
        let mut all: Outcomes = s
            .step(from, &key.1, &key.2)
            .into_iter()
            .map(|o| {
                let views: Vec<&Shown> = std::iter::once(&before).chain(&o.views).collect();
                (self.trace(side, &views), o.state)
            })
            .collect();
        all.sort();
        all.dedup();
        let all = Rc::new(all);
        self.cache[side].insert(key, Rc::clone(&all));
        all
    }

    /// The original's states after an event that have shown this.
    pub(super) fn follow(
        &mut self,
        set: &BTreeSet<State>,
        trace: &Trace,
        was: &[bool],
        now: &[bool],
    ) -> BTreeSet<State> {
        let mut same = BTreeSet::new();
        for o in set {
            for (shown, state) in self.step(0, o, was, now).iter() {
                if let Some(state) = state
                    && shown == trace
                {
                    same.insert(state.clone());
                }
            }
        }
        same
    }

    /// The events that can happen at these levels: what they become.
    pub(super) fn events(&self, levels: &[bool]) -> Vec<Vec<bool>> {
        let mut all = Vec::new();
        let grouped = |i: usize| self.walk.together.iter().any(|g| g.contains(&self.labels[i]));
        for &i in self.read.iter().filter(|&&i| !grouped(i)) {
            let mut next = levels.to_vec();
            next[i] = !next[i];
            all.push(next);
        }
        for group in self.walk.together {
            let members: Vec<usize> = group.iter().filter_map(|l| self.labels.iter().position(|x| x == l)).collect();
            for code in 1..1u64 << members.len() {
                let mut next = levels.to_vec();
                for (k, &i) in members.iter().enumerate() {
                    next[i] ^= (code >> k) & 1 == 1;
                }
                all.push(next);
            }
        }
        all.retain(|next| self.allowed(next));
        all
    }

    /// Whether the board does an event in a state of the replacement.
    pub(super) fn does(&self, replacement: &State, was: &[bool], now: &[bool]) -> bool {
        let at = |levels: &[bool], label: &str| {
            self.labels.iter().position(|l| l.as_str() == label).is_some_and(|i| levels[i])
        };
        let shown = self.sides[1].shown_at(replacement, &self.outside(1, was));
        let card = |label: &str| {
            let contact = self.labels.iter().position(|l| l.as_str() == label).and_then(|i| self.contacts[i][1])?;
            let (drives, high) = shown[contact];
            drives.then_some(high)
        };
        (self.walk.does)(&|l| at(was, l), &|l| at(now, l), &card)
    }

    pub(super) fn sure(&self, replays: bool) -> Option<bool> {
        // more outcomes of the original may explain it; more of the replacement may show it
        let side = &self.sides[usize::from(!replays)];
        if side.is_open() { None } else { Some(replays) }
    }
}
