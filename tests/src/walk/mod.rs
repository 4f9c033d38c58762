//! An exhaustive walk of what two circuits can do, state by state: a second opinion on refinement for small circuits.
//!
//! It is written from the rules of the semantics alone and shares nothing with the machine that simulates and proves:
//! levels and nets, phases, edges with the data that stood before them, latches, loops, unknowns as branches. The
//! original's states are carried as a set: those that have shown, up to here, what the replacement has shown.
mod asked;
mod explore;
mod joint;
mod living;
mod loops;
mod program;
mod settle;
mod side;

use std::collections::BTreeSet;

use crate::gates::Numbers;
use gluewright::circuit::{Circuit, Label};

pub use asked::{Allowed, Does, Found, Sequence, Walk};
use joint::Joint;
pub use living::{alive, alive_behind};
pub use loops::in_loops;
use settle::State;

impl<'c> Walk<'c> {
    /// A walk without assumptions.
    pub fn new(original: &'c Circuit, replacement: &'c Circuit, most: usize) -> Self {
        Walk {
            original,
            replacement,
            allowed: &|_| true,
            does: &|_, _, _| true,
            together: &[],
            named: &[],
            most,
            until: None,
        }
    }

    /// The contacts that either side reads, and those that are named.
    pub fn inputs(&self) -> Vec<Label> {
        let j = Joint::new(*self);
        j.read.iter().map(|&i| j.labels[i].clone()).collect()
    }

    /// Visits everything.
    pub fn run(self) -> Found {
        let mut j = Joint::new(self);
        if j.sides.iter().any(|s| s.free_bits() > 14) || j.read.len() > 12 {
            return Found::TooLarge;
        }
        let found = j.explore();
        j.judge(found)
    }

    /// Whether the original explains a drawn run of the replacement of that many events. Nothing if there are too many
    /// starts, if a critical race decides, or if the run does not come to rest.
    pub fn explains_drawn(self, numbers: &mut Numbers, events: usize) -> Option<bool> {
        let mut j = Joint::new(self);
        if j.sides.iter().any(|s| s.free_bits() > 12) {
            return None;
        }
        let mut levels: Vec<bool> = j.labels.iter().map(|_| numbers.below(2) == 1).collect();
        for _ in 0..200 {
            if j.allowed(&levels) {
                break;
            }
            levels = j.labels.iter().map(|_| numbers.below(2) == 1).collect();
        }
        let starts = j.awake(1, &levels, &|_| None);
        let (shown, mut state) = match starts.get(numbers.below(starts.len()))? {
            (shown, Some(state)) => (shown.clone(), state.clone()),
            _ => return None,
        };
        let mut set: BTreeSet<State> =
            j.awake(0, &levels, &|_| None).into_iter().filter(|o| o.0 == shown).filter_map(|o| o.1).collect();
        for _ in 0..events {
            if j.is_late() {
                return None;
            }
            if set.is_empty() {
                return j.sure(true).map(|differs| !differs);
            }
            let next = j.events(&levels);
            let Some(next) = next.get(numbers.below(next.len())) else { break };
            let outcomes = j.step(1, &state, &levels, next);
            let (trace, after) = outcomes.get(numbers.below(outcomes.len()))?;
            set = j.follow(&set, trace, &levels, next);
            state = after.clone()?;
            levels = next.clone();
        }
        if set.is_empty() { j.sure(true).map(|differs| !differs) } else { Some(true) }
    }

    /// Whether no run of the original shows what some run of the replacement shows over this sequence, from these bits
    /// at power-up. Nothing if there are too many starts, or if a critical race decides.
    pub fn replays(self, sequence: &Sequence, held: &[(String, bool)]) -> Option<bool> {
        let mut j = Joint::new(self);
        let levels = |l: &[(Label, bool)], now: &mut Vec<bool>| {
            for (label, high) in l {
                if let Some(i) = j.labels.iter().position(|x| x == label) {
                    now[i] = *high;
                }
            }
        };
        let mut now = vec![false; j.labels.len()];
        levels(&sequence.levels, &mut now);
        let mut path = vec![now.clone()];
        for event in &sequence.events {
            levels(event, &mut now);
            path.push(now.clone());
        }
        if !path.iter().all(|l| j.allowed(l)) {
            return Some(false);
        }
        if j.sides[0].free_bits() > 14 {
            return None;
        }
        let fixed = |name: &str| held.iter().find(|(n, _)| n == name).map(|h| h.1);
        let mut pairs: Vec<(State, BTreeSet<State>)> = Vec::new();
        let originals = j.awake(0, &path[0], &|_| None);
        for (shown, state) in j.awake(1, &path[0], &fixed) {
            let Some(state) = state else { continue };
            let same: BTreeSet<State> = originals.iter().filter(|o| o.0 == shown).filter_map(|o| o.1.clone()).collect();
            if same.is_empty() {
                return j.sure(true);
            }
            pairs.push((state, same));
        }
        for w in path.windows(2) {
            if j.is_late() {
                return None;
            }
            let mut next: Vec<(State, BTreeSet<State>)> = Vec::new();
            for (r, set) in &pairs {
                for (trace, r) in j.step(1, r, &w[0], &w[1]).iter() {
                    let same = j.follow(set, trace, &w[0], &w[1]);
                    if same.is_empty() {
                        return j.sure(true);
                    }
                    if let Some(r) = r
                        && !same.is_empty()
                    {
                        next.push((r.clone(), same));
                    }
                }
            }
            next.sort();
            next.dedup();
            pairs = next;
        }
        j.sure(false)
    }
}

/// What a contact shows over an event, without repetitions: 0 low, 1 high, 2 let go.
pub type Seen = Vec<u8>;

/// Everything that the contacts of a circuit can show in one event, in the order of their labels, from the settled point that is
/// told by the names of what holds it: elements, nets of loops, `NAME (floating)` for what a net reads that nothing drives, and
/// `NAME (clear and preset)` where both are asserted. Nothing if a critical race of latches decides, if a latch stands in a
/// loop, or if it may not come to rest.
pub fn outcomes(
    circuit: &Circuit,
    holds: &dyn Fn(&str) -> bool,
    was: &dyn Fn(&Label) -> bool,
    now: &dyn Fn(&Label) -> bool,
) -> Option<BTreeSet<Vec<Seen>>> {
    let mut j = Joint::new(Walk::new(circuit, circuit, 0));
    let side = &j.sides[0];
    if loops::latches_in_loops(circuit).iter().zip(&side.live).any(|(&looped, &live)| looped && live) {
        return None;
    }
    let net = |&n: &usize| holds(&circuit.nets()[n].name);
    let floating = |&n: &usize| holds(&format!("{} (floating)", circuit.nets()[n].name));
    let from = State {
        held: circuit.elements().iter().map(|e| holds(&e.name)).collect(),
        both: circuit.elements().iter().map(|e| holds(&format!("{} (clear and preset)", e.name))).collect(),
        loops: side.looped.iter().map(net).collect(),
        floats: side.floating.iter().map(floating).collect(),
    };
    let [was, now] = [was, now].map(|level| j.labels.iter().map(level).collect::<Vec<bool>>());
    let all = j.step(0, &from, &was, &now);
    if j.sides[0].raced.get() || all.iter().any(|(_, state)| state.is_none()) {
        return None;
    }
    Some(all.iter().map(|(trace, _)| trace.clone()).collect())
}
