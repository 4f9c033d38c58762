//! One circuit, explicitly: its states, how it settles, and everything that can come of an event.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Expr, Kind, Label, Op};

use super::program::{Instruction, Program, compile};

/// Everything that a settled circuit remembers. Bit sets by element and by net.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct State {
    /// What the elements hold.
    pub(super) held: Vec<bool>,
    /// Clear and preset both asserted.
    both: Vec<bool>,
    /// Levels of the nets in loops.
    loops: Vec<bool>,
    /// Levels of the nets that can float.
    floats: Vec<bool>,
}

/// What every contact shows at one settled point: driven, level while driven.
pub(super) type Shown = Vec<(bool, bool)>;

/// One thing that can come of an event.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Outcome {
    /// Nothing if it did not come to rest.
    pub(super) state: Option<State>,
    /// What the contacts showed at the end of each phase.
    pub(super) views: Vec<Shown>,
}

#[derive(Debug)]
pub(super) struct Side<'c> {
    pub(super) circuit: &'c Circuit,
    /// The two orders in which loops can be cut: where they end differently there is a critical race.
    programs: Vec<Program>,
    looped: Vec<usize>,
    floating: Vec<usize>,
    /// Elements on which something at a contact hangs; the others may do what they like.
    live: Vec<bool>,
    /// A critical race was met.
    pub(super) raced: std::cell::Cell<bool>,
}

/// A settled point: the state, and every place of the program.
struct Settled {
    state: State,
    values: Vec<bool>,
}

impl<'c> Side<'c> {
    pub(super) fn new(circuit: &'c Circuit) -> Self {
        let (live_nets, live) = alive(circuit);
        let in_loops = super::loops::in_loops(circuit);
        let looped: Vec<usize> = (0..in_loops.len()).filter(|&n| in_loops[n] && live_nets[n]).collect();
        let all: Vec<usize> = (0..in_loops.len()).filter(|&n| in_loops[n]).collect();
        let mut programs = vec![compile(circuit, false, &all), compile(circuit, true, &all)];
        let latches = programs[0].elements.iter().zip(&live).filter(|(e, live)| **live && !e.is_register).count();
        if latches < 2 || !looped.is_empty() {
            // no two latches can race; loops are tried in every order
            programs.truncate(1);
        }
        let floating: BTreeSet<usize> = programs[0]
            .list
            .iter()
            .filter_map(|i| match i {
                Instruction::Float(n) => Some(*n),
                _ => None,
            })
            .filter(|n| live_nets[*n] && super::reads_net(circuit, *n))
            .collect();
        Side {
            live,
            circuit,
            programs,
            looped,
            floating: floating.into_iter().collect(),
            raced: std::cell::Cell::new(false),
        }
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
            .filter(|&c| super::reads_net(self.circuit, self.circuit.contacts()[c].net.index()))
            .collect()
    }

    pub(super) fn pull(&self, contact: usize) -> gluewright::circuit::Pull {
        self.circuit.nets()[self.circuit.contacts()[contact].net.index()].pull
    }

    fn run(&self, p: &Program, s: &State, outside: &[bool]) -> Vec<bool> {
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
    fn settle(&self, state: &State, outside: &[bool]) -> Vec<Option<Settled>> {
        if !self.looped.is_empty() {
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

    /// Loops in every order in which their gates can move, one at a time; then latches, and the loops again.
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
            if wanted.len() > before {
                continue;
            }
            let mut next = s.clone();
            self.latches(p, &v, &mut next);
            if next == s {
                ends.insert(s);
            } else {
                wanted.push(next);
            }
        }
        let restless = ends.is_empty();
        let latches = p.elements.iter().zip(&self.live).any(|(e, live)| *live && !e.is_register);
        if ends.len() > 1 && latches {
            self.raced.set(true);
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

    fn shown(&self, values: &[bool]) -> Shown {
        self.programs[0].shown.iter().map(|&(d, l)| (values[d], values[d] && values[l])).collect()
    }

    /// What contacts show in a settled state.
    pub(super) fn shown_at(&self, state: &State, outside: &[bool]) -> Shown {
        self.shown(&self.run(&self.programs[0], state, outside))
    }

    /// Every settled state that power-up can come to, with these levels outside. `held` fixes some elements by name.
    pub(super) fn wake(&self, outside: &[bool], held: &dyn Fn(&str) -> Option<bool>) -> Vec<Outcome> {
        let fixed: Vec<Option<bool>> = self
            .circuit
            .elements()
            .iter()
            .zip(&self.live)
            .map(|(e, live)| e.start.level().or_else(|| held(&e.name)).or(if *live { None } else { Some(false) }))
            .collect();
        let loops: Vec<Option<bool>> = self.looped.iter().map(|&n| held(&self.circuit.nets()[n].name)).collect();
        let open: Vec<&Option<bool>> = fixed.iter().chain(&loops).filter(|f| f.is_none()).collect();
        let count = open.len() + self.floating.len();
        let mut all = BTreeSet::new();
        // loops start settled, any way: what settles them here is no race
        let raced = self.raced.get();
        for code in 0..1u64 << count {
            let mut bits = (0..count).map(|k| (code >> k) & 1 == 1);
            let mut take = |f: &Option<bool>| f.unwrap_or_else(|| bits.next().unwrap_or(false));
            let s = State {
                held: fixed.iter().map(&mut take).collect(),
                both: vec![false; fixed.len()],
                loops: loops.iter().map(&mut take).collect(),
                floats: self.floating.iter().map(|_| take(&None)).collect(),
            };
            for settled in self.settle(&s, outside) {
                let Some(mut settled) = settled else {
                    all.insert(Outcome { state: None, views: Vec::new() });
                    continue;
                };
                // what clear and preset do to both outputs at once is no edge of anything
                for _ in 0..fixed.len() {
                    let mut s = settled.state.clone();
                    for (e, i) in self.programs[0].elements.iter().enumerate().filter(|(e, _)| self.live[*e]) {
                        s.both[e] = settled.values[i.clear] && settled.values[i.preset];
                    }
                    if s == settled.state {
                        break;
                    }
                    match self.settle(&s, outside).into_iter().next().flatten() {
                        Some(next) => settled = next,
                        None => break,
                    }
                }
                let before = settled.values.clone();
                self.phases(&settled.state, &before, outside, &mut Vec::new(), &mut all);
            }
        }
        self.raced.set(raced);
        // only where it rests is compared at power-up
        let ends = all.into_iter().map(|o| Outcome { views: Vec::new(), ..o }).collect::<BTreeSet<_>>();
        ends.into_iter().collect()
    }

    /// Everything that can come of new levels outside.
    pub(super) fn step(&self, from: &State, was: &[bool], outside: &[bool]) -> Vec<Outcome> {
        let before = self.run(&self.programs[0], from, was);
        let mut all = BTreeSet::new();
        for code in 0..1u64 << self.floating.len() {
            let mut s = from.clone();
            for (k, f) in s.floats.iter_mut().enumerate() {
                *f = (code >> k) & 1 == 1;
            }
            self.phases(&s, &before, outside, &mut Vec::new(), &mut all);
        }
        all.into_iter().collect()
    }

    /// Phase after phase; branches where something is unknown.
    fn phases(
        &self,
        state: &State,
        before: &[bool],
        outside: &[bool],
        views: &mut Vec<Shown>,
        all: &mut BTreeSet<Outcome>,
    ) {
        if views.len() > 24 + 4 * state.held.len() {
            all.insert(Outcome { state: None, views: Vec::new() });
            return;
        }
        for settled in self.settle(state, outside) {
            let Some(settled) = settled else {
                all.insert(Outcome { state: None, views: Vec::new() });
                continue;
            };
            for settled in self.latches_released(settled, before, outside) {
                let now = &settled.values;
                views.push(self.shown(now));
                let mut options: Vec<Vec<bool>> = Vec::new();
                let mut both = settled.state.both.clone();
                for (e, i) in self.programs[0].elements.iter().enumerate() {
                    let holds = settled.state.held[e];
                    if !i.is_register || !self.live[e] {
                        options.push(vec![holds]);
                        continue;
                    }
                    both[e] = now[i.clear] && now[i.preset];
                    let edge = !before[i.clock] && now[i.clock];
                    let was_forced = before[i.clear] || before[i.preset];
                    let mut can = if now[i.clear] {
                        vec![false]
                    } else if now[i.preset] {
                        vec![true]
                    } else if (before[i.clear] && before[i.preset]) || (edge && before[i.unknown]) {
                        vec![false, true]
                    } else if edge && was_forced {
                        vec![holds, before[i.data], now[i.data]]
                    } else if edge {
                        vec![before[i.data], now[i.data]]
                    } else {
                        vec![holds]
                    };
                    can.sort_unstable();
                    can.dedup();
                    options.push(can);
                }
                let mut combinations: Vec<Vec<bool>> = vec![Vec::new()];
                for can in &options {
                    combinations = combinations
                        .iter()
                        .flat_map(|c| can.iter().map(move |&v| c.iter().copied().chain([v]).collect()))
                        .collect();
                }
                for held in combinations {
                    let next = State { held, both: both.clone(), ..settled.state.clone() };
                    if next == settled.state {
                        all.insert(Outcome { state: Some(next), views: views.clone() });
                    } else {
                        self.phases(&next, now, outside, views, all);
                    }
                }
                views.pop();
            }
        }
    }

    /// A closed latch whose clear and preset were released together holds either.
    fn latches_released(&self, settled: Settled, before: &[bool], outside: &[bool]) -> Vec<Settled> {
        let now = &settled.values;
        let unknown: Vec<usize> = self.programs[0]
            .elements
            .iter()
            .enumerate()
            .filter(|(e, i)| {
                let joint = before[i.clear] && before[i.preset];
                self.live[*e] && !i.is_register && joint && !now[i.clear] && !now[i.preset] && !now[i.clock]
            })
            .map(|(e, _)| e)
            .collect();
        if unknown.is_empty() {
            return vec![settled];
        }
        let mut all = Vec::new();
        for code in 0..1u64 << unknown.len() {
            let mut s = settled.state.clone();
            for (k, &e) in unknown.iter().enumerate() {
                s.held[e] = (code >> k) & 1 == 1;
            }
            all.extend(self.settle(&s, outside).into_iter().flatten());
        }
        all
    }
}

/// The nets and elements on which something at a contact hangs.
pub fn alive(circuit: &Circuit) -> (Vec<bool>, Vec<bool>) {
    alive_behind(circuit, |_| true)
}

/// The nets and elements on which something at these contacts hangs.
pub fn alive_behind(circuit: &Circuit, shown: impl Fn(&Label) -> bool) -> (Vec<bool>, Vec<bool>) {
    let (mut nets, mut elements) = (vec![false; circuit.nets().len()], vec![false; circuit.elements().len()]);
    let mut wanted: Vec<Expr> = Vec::new();
    let mut seen: BTreeSet<Expr> = BTreeSet::new();
    let reach = |n: usize, nets: &mut Vec<bool>, wanted: &mut Vec<Expr>| {
        if !std::mem::replace(&mut nets[n], true) {
            wanted.extend(circuit.nets()[n].drivers.iter().flat_map(|d| [d.enable, d.level]));
        }
    };
    for c in circuit.contacts().iter().filter(|c| shown(&c.label)) {
        reach(c.net.index(), &mut nets, &mut wanted);
    }
    while let Some(e) = wanted.pop() {
        if !seen.insert(e) {
            continue;
        }
        match circuit.op(e) {
            Op::Constant(_) => {}
            Op::Net(n) => reach(n.index(), &mut nets, &mut wanted),
            Op::Q(x) | Op::QInverted(x) => {
                if !std::mem::replace(&mut elements[x.index()], true) {
                    let e = &circuit.elements()[x.index()];
                    let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
                    wanted.extend([clock, data, e.clear, e.preset, circuit.loads_unknown(x)]);
                }
            }
            Op::Not(a) => wanted.push(a),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => wanted.extend([a, b]),
            Op::Choose(a, b, c) => wanted.extend([a, b, c]),
        }
    }
    (nets, elements)
}
