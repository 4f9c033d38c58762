//! How one circuit settles: gates, open latches and loops, until nothing changes.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Pull};

use super::living::{alive, reads_net};
use super::program::{Instruction, Program, compile};

/// Everything that a settled circuit remembers. Bit sets by element and by net.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct State {
    /// What the elements hold.
    pub(super) held: Vec<bool>,
    /// Clear and preset both asserted.
    pub(super) both: Vec<bool>,
    /// Levels of the nets in loops.
    pub(super) loops: Vec<bool>,
    /// Levels of the nets that can float.
    pub(super) floats: Vec<bool>,
}

/// What every contact shows at one settled point: driven, level while driven.
pub(super) type Shown = Vec<(bool, bool)>;

/// A circuit as the walk runs it.
#[derive(Debug)]
pub(super) struct Side<'c> {
    pub(super) circuit: &'c Circuit,
    /// The two orders in which loops can be cut: where they end differently there is a critical race.
    pub(super) programs: Vec<Program>,
    pub(super) looped: Vec<usize>,
    /// Latches that are part of a loop.
    looped_latches: Vec<bool>,
    pub(super) floating: Vec<usize>,
    /// Elements on which something at a contact hangs; the others may do what they like.
    pub(super) live: Vec<bool>,
    /// A critical race was met.
    pub(super) raced: std::cell::Cell<bool>,
    /// Loops ended in several ways, and latches beside them may have come sooner or later.
    pub(super) late: std::cell::Cell<bool>,
}

/// A settled point: the state, and every place of the program.
pub(super) struct Settled {
    pub(super) state: State,
    pub(super) values: Vec<bool>,
}

impl<'c> Side<'c> {
    pub(super) fn new(circuit: &'c Circuit) -> Self {
        let (live_nets, live) = alive(circuit);
        let in_loops = super::loops::in_loops(circuit);
        let looped: Vec<usize> = (0..in_loops.len()).filter(|&n| in_loops[n] && live_nets[n]).collect();
        let all: Vec<usize> = (0..in_loops.len()).filter(|&n| in_loops[n]).collect();
        let mut programs = vec![compile(circuit, false, &all), compile(circuit, true, &all)];
        let latches = programs[0].elements.iter().zip(&live).filter(|(e, live)| **live && !e.is_register).count();
        let latch_loops = super::loops::latches_in_loops(circuit);
        let latch_loops = latch_loops.iter().zip(&live).any(|(&l, &live)| l && live);
        if latches < 2 || !looped.is_empty() || latch_loops {
            // no two latches can race; loops are tried in every order, with the latches in them
            programs.truncate(1);
        }
        let floating: BTreeSet<usize> = programs[0]
            .list
            .iter()
            .filter_map(|i| match i {
                Instruction::Float(n) => Some(*n),
                _ => None,
            })
            .filter(|n| live_nets[*n] && reads_net(circuit, *n))
            .collect();
        Side {
            live,
            looped_latches: super::loops::latches_in_loops(circuit),
            circuit,
            programs,
            looped,
            floating: floating.into_iter().collect(),
            raced: std::cell::Cell::new(false),
            late: std::cell::Cell::new(false),
        }
    }

    /// Whether what comes first decides what was found.
    pub(super) fn is_open(&self) -> bool {
        self.raced.get() || self.late.get()
    }

    /// Bits that power-up leaves open.
    pub(super) fn free_bits(&self) -> usize {
        let free = |(e, live): &(&gluewright::circuit::Element, &bool)| **live && e.start.level().is_none();
        let free = self.circuit.elements().iter().zip(&self.live).filter(free).count();
        free + self.looped.len() + self.floating.len()
    }

    /// The contacts whose outside level anything reads.
    pub(super) fn reads(&self) -> BTreeSet<usize> {
        self.programs[0]
            .list
            .iter()
            .filter_map(|i| match i {
                Instruction::Outside(c) => Some(*c),
                _ => None,
            })
            .filter(|&c| reads_net(self.circuit, self.circuit.contacts()[c].net.index()))
            .collect()
    }

    pub(super) fn pull(&self, contact: usize) -> Pull {
        self.circuit.nets()[self.circuit.contacts()[contact].net.index()].pull
    }

    pub(super) fn run(&self, p: &Program, s: &State, outside: &[bool]) -> Vec<bool> {
        let mut v: Vec<bool> = Vec::with_capacity(p.list.len());
        let bit = |of: &[usize], bits: &[bool], n: usize| of.iter().position(|&x| x == n).is_some_and(|k| bits[k]);
        for i in &p.list {
            v.push(match *i {
                Instruction::Constant(b) => b,
                Instruction::Outside(c) => outside[c],
                Instruction::Held(e) => s.held[e],
                Instruction::Both(e) => s.both[e],
                Instruction::Loop(n) => bit(&self.looped, &s.loops, n),
                Instruction::Float(n) => bit(&self.floating, &s.floats, n),
                Instruction::Not(a) => !v[a],
                Instruction::And(a, b) => v[a] && v[b],
                Instruction::Or(a, b) => v[a] || v[b],
                Instruction::Xor(a, b) => v[a] != v[b],
                Instruction::Choose(c, a, b) => {
                    if v[c] {
                        v[a]
                    } else {
                        v[b]
                    }
                }
            });
        }
        v
    }

    /// Gates, open latches and loops, until nothing changes: once with everything at once, once one after the other.
    pub(super) fn settle(&self, state: &State, outside: &[bool]) -> Vec<Option<Settled>> {
        if !self.looped.is_empty() || self.looped_latches.iter().zip(&self.live).any(|(&l, &live)| l && live) {
            return self.settle_loops(state, outside);
        }
        let mut all: Vec<Option<Settled>> = Vec::new();
        for (k, p) in self.programs.iter().enumerate() {
            let settled = self.settle_in(p, k == 1, state, outside);
            if !all.iter().any(|s| match (s, &settled) {
                (Some(a), Some(b)) => a.state == b.state,
                (None, None) => true,
                _ => false,
            }) {
                all.push(settled);
            }
        }
        if all.len() > 1 {
            self.raced.set(true);
        }
        // places are those of the first program
        for s in all.iter_mut().flatten() {
            s.values = self.run(&self.programs[0], &s.state, outside);
        }
        all
    }

    /// Loops and latches in every order in which they can move, one at a time: a latch beside a loop may be sooner than its
    /// gates, or later. What comes first there is a matter of time: with several ends a verdict is left open.
    fn settle_loops(&self, state: &State, outside: &[bool]) -> Vec<Option<Settled>> {
        let p = &self.programs[0];
        let mut ends: BTreeSet<State> = BTreeSet::new();
        let mut seen: BTreeSet<State> = BTreeSet::new();
        let mut wanted = vec![state.clone()];
        while let Some(s) = wanted.pop() {
            if !seen.insert(s.clone()) {
                continue;
            }
            if seen.len() > 4096 {
                self.raced.set(true);
                break;
            }
            let v = self.run(p, &s, outside);
            let before = wanted.len();
            for (k, &n) in self.looped.iter().enumerate().filter(|&(k, &n)| v[p.nets[n]] != s.loops[k]) {
                let mut next = s.clone();
                next.loops[k] = v[p.nets[n]];
                wanted.push(next);
            }
            let mut latched = s.clone();
            self.latches(p, &v, &mut latched);
            let moves = |e: &usize| (latched.held[*e], latched.both[*e]) != (s.held[*e], s.both[*e]);
            for e in (0..s.held.len()).filter(moves) {
                let mut next = s.clone();
                (next.held[e], next.both[e]) = (latched.held[e], latched.both[e]);
                wanted.push(next);
            }
            if wanted.len() == before {
                ends.insert(s);
            }
        }
        let restless = ends.is_empty();
        let others =
            p.elements.iter().enumerate().any(|(e, i)| self.live[e] && !i.is_register && !self.looped_latches[e]);
        if ends.len() > 1 && others {
            self.late.set(true);
        }
        let settled = |state: State| {
            let values = self.run(p, &state, outside);
            Some(Settled { state, values })
        };
        let mut all: Vec<Option<Settled>> = ends.into_iter().map(settled).collect();
        if restless {
            all.push(None);
        }
        all
    }

    /// Every latch takes what it follows, at one moment.
    fn latches(&self, p: &Program, v: &[bool], next: &mut State) {
        for (e, i) in p.elements.iter().enumerate().filter(|(e, i)| !i.is_register && self.live[*e]) {
            next.both[e] = v[i.clear] && v[i.preset];
            next.held[e] = match (v[i.clear], v[i.preset], v[i.clock]) {
                (true, ..) => false,
                (_, true, _) => true,
                (.., true) => v[i.data],
                _ => next.held[e],
            };
        }
    }

    /// Latches of a circuit without loops, all at once or one after the other.
    fn settle_in(&self, p: &Program, one_by_one: bool, state: &State, outside: &[bool]) -> Option<Settled> {
        let mut s = state.clone();
        for _ in 0..64 + 32 * s.held.len() {
            let v = self.run(p, &s, outside);
            let mut next = s.clone();
            self.latches(p, &v, &mut next);
            if next == s {
                return Some(Settled { state: s, values: v });
            }
            if one_by_one
                && let Some(last) =
                    (0..s.held.len()).rev().find(|&e| (next.held[e], next.both[e]) != (s.held[e], s.both[e]))
            {
                let (held, both) = (next.held[last], next.both[last]);
                next = s.clone();
                (next.held[last], next.both[last]) = (held, both);
            }
            s = next;
        }
        None
    }

    pub(super) fn shown(&self, values: &[bool]) -> Shown {
        self.programs[0].shown.iter().map(|&(d, l)| (values[d], values[d] && values[l])).collect()
    }

    /// What contacts show in a settled state.
    pub(super) fn shown_at(&self, state: &State, outside: &[bool]) -> Shown {
        self.shown(&self.run(&self.programs[0], state, outside))
    }
}
