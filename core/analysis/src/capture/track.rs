//! A circuit beside a capture: every state that it may be in, narrowed down by what the contacts showed.
//!
//! A state is a point of the machine over terms of a start that nobody knows, with the condition under which it is the
//! one; orders of changes that the skew leaves open make several. Once the states can be counted they are followed one by
//! one ([`Known`]), and a step costs no more than a simulation.

use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::limit::Limit;
use gluewright_kernel::machine::known::{Block, Known};
use gluewright_kernel::machine::{Freedom, Limits, Machine, Point, Symbolic};
use gluewright_kernel::solver::{Answer, Effort, Solver};
use gluewright_kernel::terms::{Assignment, Term, Terms};

use super::channels::Wired;
use super::disagree::Disagreement;
use super::moments::{Moment, Moments, Unclear};
use super::record::Sample;

/// Different states that are kept side by side.
const MOST_STATES: usize = 64;
/// Terms at which what is known is counted anew, state by state.
const MANY_TERMS: usize = 1 << 16;
const MOST_TERMS: usize = 1 << 21;
/// Moments after which the states are counted even if the terms are few; the number doubles each time.
const FIRST_COUNT: usize = 16;

/// One state, and when it is the one.
pub(super) struct State {
    pub(super) point: Point<Term>,
    pub(super) when: Term,
}

/// A circuit on its way along a capture.
pub(super) struct Track<'w> {
    pub(super) machine: Machine,
    pub(super) wired: &'w Wired,
    /// The port of each wire.
    pub(super) ports: Vec<Option<usize>>,
    pub(super) terms: Terms,
    /// Made when the first question comes: most faults are told without one.
    solver: Option<Solver>,
    states: Vec<State>,
    /// All states, once they have been counted; `states` is empty then.
    known: Option<Known>,
    recount: usize,
    looks: usize,
    count_at: usize,
    /// The wires that were compared at some moment: the circuit drove them, or it is said where they rest.
    pub(super) compared: Vec<bool>,
    limit: Limit,
}

/// Where a circuit stands after one moment.
pub(super) enum Verdict {
    /// Some state explains everything so far.
    Explained,
    /// None does.
    Not(Vec<Disagreement>),
    /// Too many states to go on.
    TooOpen,
}

/// Whether a circuit explains moments, all of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Explains {
    Yes,
    No,
    /// Too many states to say.
    Open,
    /// The time was over first.
    Late,
}

fn limits() -> Limits {
    Limits { phases: 24, iterations: 24 }
}

impl<'w> Track<'w> {
    pub(super) fn new(circuit: &Circuit, wired: &'w Wired) -> Self {
        Track::of(Machine::new(circuit), wired)
    }

    pub(super) fn of(machine: Machine, wired: &'w Wired) -> Self {
        let ports = wired.wires.iter().map(|w| machine.port(&w.label)).collect();
        Track {
            machine,
            wired,
            ports,
            terms: Terms::new(),
            solver: None,
            states: Vec::new(),
            known: None,
            recount: MANY_TERMS,
            looks: 0,
            count_at: FIRST_COUNT,
            compared: vec![false; wired.wires.len()],
            limit: Limit::default(),
        }
    }

    /// With a limit of time.
    pub(super) fn within(self, limit: Limit) -> Self {
        Track { limit, ..self }
    }

    /// Which wires the circuit reads.
    pub(super) fn reads(&self) -> Vec<bool> {
        self.ports.iter().map(|p| p.is_some_and(|p| self.machine.reads_outside(p))).collect()
    }

    /// Contacts that the circuit reads and that have neither a channel nor a level.
    pub(super) fn missing(&self) -> Vec<String> {
        let has = |label: &gluewright_kernel::circuit::Label| {
            self.wired.wires.iter().any(|w| w.label == *label) || self.wired.fixed.iter().any(|(l, _)| l == label)
        };
        let ports = self.machine.ports().iter().enumerate();
        ports
            .filter(|(p, port)| self.machine.reads_outside(*p) && !has(&port.label))
            .map(|(_, port)| format!("{} {}", port.label, port.name))
            .collect()
    }

    /// Begins: any start that comes to rest with these levels.
    pub(super) fn begin(&mut self, first: &Moment) -> Verdict {
        let levels = Moments::levels(&first.seen);
        let mut outside = vec![false; self.machine.ports().len()];
        for (port, level) in self.ports.iter().zip(levels) {
            if let Some(slot) = port.and_then(|p| outside.get_mut(p)) {
                *slot = level;
            }
        }
        for (label, high) in &self.wired.fixed {
            if let Some(p) = self.machine.port(label) {
                outside[p] = *high;
            }
        }
        self.known = Known::begin(&self.machine, &outside, limits());
        if self.known.is_some() {
            return self.look(first);
        }
        let outside: Vec<Term> = outside.into_iter().map(Term::constant).collect();
        let cells: Vec<Term> = self.machine.cells().iter().map(|_| self.terms.variable()).collect();
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Free);
        let woken = self.machine.power_up(&mut algebra, &outside, &cells, limits());
        self.states = vec![State { point: woken.point, when: !woken.unsettled }];
        self.look(first)
    }

    /// One moment on.
    pub(super) fn step(&mut self, moment: &Moment) -> Verdict {
        if moment.inputs.is_empty() {
            return self.look(moment);
        }
        let orders = orders(&moment.inputs);
        if let Some(known) = &mut self.known {
            let ports = &self.ports;
            let port =
                |&(wire, level): &(u16, bool)| Some(vec![(ports.get(usize::from(wire)).copied().flatten()?, level)]);
            let orders: Vec<Vec<_>> = orders.iter().map(|o| o.iter().filter_map(port).collect()).collect();
            if !known.step(&self.machine, &orders, limits()) {
                return Verdict::TooOpen;
            }
        } else {
            let mut next: Vec<State> = Vec::new();
            for state in std::mem::take(&mut self.states) {
                for order in &orders {
                    let (mut point, mut when) = (state.point.clone(), state.when);
                    for &(wire, level) in order {
                        let Some(port) = self.ports.get(usize::from(wire)).copied().flatten() else { continue };
                        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Free);
                        let change = [(port, Term::constant(level))];
                        let stepped = self.machine.step(&mut algebra, &point, &change, limits());
                        point = stepped.point;
                        when = self.terms.and(when, !stepped.unsettled);
                    }
                    let held = self.machine.held(&point);
                    match next.iter_mut().find(|s| self.machine.held(&s.point) == held) {
                        Some(same) => same.when = self.terms.or(same.when, when),
                        None => next.push(State { point, when }),
                    }
                    if next.len() > MOST_STATES {
                        return Verdict::TooOpen;
                    }
                }
            }
            self.states = next;
        }
        self.look(moment)
    }

    /// Follows moments from their beginning to their end, for as long as there is time.
    pub(super) fn explains(mut self, moments: impl Iterator<Item = Result<Moment, Unclear>>) -> Explains {
        for (k, moment) in moments.enumerate() {
            let Ok(moment) = moment else { return Explains::No };
            if (k % 256 == 0 || self.known.is_none()) && self.limit.over().is_some() {
                return Explains::Late;
            }
            match if k == 0 { self.begin(&moment) } else { self.step(&moment) } {
                Verdict::Explained => {}
                Verdict::Not(_) => return Explains::No,
                Verdict::TooOpen => return Explains::Open,
            }
        }
        Explains::Yes
    }

    /// Notes which contacts this moment says something about.
    fn note(&mut self, moment: &Moment) {
        for wire in 0..self.compared.len() {
            if self.compared.get(wire) == Some(&true) {
                continue;
            }
            let Some(port) = self.ports.get(wire).copied().flatten() else { continue };
            let says = match moment.seen.get(wire) {
                None | Some(Sample::Unknown) => false,
                Some(Sample::Floating) => true,
                Some(Sample::High | Sample::Low) => {
                    let is_said = self.wired.wires.get(wire).is_some_and(|w| w.rest.is_some());
                    let lanes = |known: &Known| {
                        known.blocks.iter().any(|b| self.machine.shown(&b.point, port).0 & b.alive != 0)
                    };
                    let terms = |s: &State| self.machine.shown(&s.point, port).0 != Term::FALSE;
                    is_said || self.known.as_ref().map_or_else(|| self.states.iter().any(terms), lanes)
                }
            };
            if let Some(compared) = self.compared.get_mut(wire) {
                *compared = says;
            }
        }
    }

    /// Narrows the states down by what the contacts show.
    fn look(&mut self, moment: &Moment) -> Verdict {
        self.note(moment);
        if let Some(mut known) = self.known.take() {
            let left: Vec<u64> = known.blocks.iter().map(|b| self.left(b, moment)).collect();
            let explained = left.iter().any(|&lanes| lanes != 0);
            let verdict = match explained {
                true => Verdict::Explained,
                false => Verdict::Not(self.disagreements_of(&known.blocks, moment)),
            };
            if explained {
                known.keep(&self.machine, &left);
            }
            self.known = Some(known);
            return verdict;
        }
        self.looks += 1;
        let mut left = Vec::new();
        let states = std::mem::take(&mut self.states);
        for state in &states {
            let mut when = state.when;
            for wire in 0..self.wired.wires.len() {
                let alike = self.alike(&state.point, wire, moment);
                when = self.terms.and(when, alike);
            }
            let possible = match when.as_constant() {
                Some(known) => known,
                None if when == state.when => true,
                None => !matches!(self.ask(&[when]), Answer::No),
            };
            if possible {
                left.push(State { point: state.point.clone(), when });
            }
        }
        if left.is_empty() {
            let why = self.disagreements(&states, moment);
            self.states = states;
            return Verdict::Not(why);
        }
        self.states = left;
        if self.looks < self.count_at && self.terms.len() <= self.recount {
            return Verdict::Explained;
        }
        self.count_at = self.looks.max(self.count_at).saturating_mul(2);
        self.count_anew()
    }

    /// The lanes in which all contacts show what was seen.
    fn left(&self, block: &Block, moment: &Moment) -> u64 {
        let mut left = block.alive;
        for wire in 0..self.wired.wires.len() {
            if left == 0 {
                break;
            }
            left &= self.alike_lanes(block, wire, moment);
        }
        left
    }

    /// The lanes in which one contact shows what was seen there.
    pub(super) fn alike_lanes(&self, block: &Block, wire: usize, moment: &Moment) -> u64 {
        let (Some(Some(port)), Some(&seen)) = (self.ports.get(wire), moment.seen.get(wire)) else { return u64::MAX };
        let (drive, level) = self.machine.shown(&block.point, *port);
        let rest = self.wired.wires.get(wire).and_then(|w| w.rest);
        match (seen, rest) {
            (Sample::Unknown, _) => u64::MAX,
            (Sample::Floating, _) => !drive,
            (Sample::High, Some(false)) => drive & level,
            (Sample::Low, Some(true)) => drive & !level,
            // what nobody on the card drives is another's, and not compared
            (Sample::High, _) => level | !drive,
            (Sample::Low, _) => !(drive & level),
        }
    }

    pub(super) fn ask(&mut self, wanted: &[Term]) -> Answer {
        let effort = Effort { limit: self.limit, ..Effort::default() };
        self.solver.get_or_insert_with(|| Solver::new(effort)).satisfy(&self.terms, wanted)
    }

    /// When a state shows at a contact what was seen there.
    pub(super) fn alike(&mut self, point: &Point<Term>, wire: usize, moment: &Moment) -> Term {
        let (Some(Some(port)), Some(&seen)) = (self.ports.get(wire), moment.seen.get(wire)) else { return Term::TRUE };
        let (drive, level) = self.machine.shown(point, *port);
        if drive == Term::FALSE && self.wired.wires.get(wire).is_none_or(|w| w.rest.is_none()) {
            return Term::TRUE;
        }
        let rest = self.wired.wires.get(wire).and_then(|w| w.rest);
        match seen {
            Sample::Unknown => Term::TRUE,
            Sample::Floating => !drive,
            Sample::High | Sample::Low => {
                let high = seen == Sample::High;
                let floats = if rest.is_none_or(|rest| rest == high) { !drive } else { Term::FALSE };
                let shows = self.terms.and(drive, level.inverted_if(!high));
                self.terms.or(floats, shows)
            }
        }
    }

    /// Replaces terms by the states that they stand for, if those are few.
    fn count_anew(&mut self) -> Verdict {
        let mut found: Vec<(Vec<bool>, Vec<bool>)> = Vec::new();
        let states = std::mem::take(&mut self.states);
        for state in &states {
            let held = self.machine.held(&state.point);
            let outside: Vec<bool> =
                self.machine.outside(&state.point).iter().map(|t| t.as_constant().unwrap_or(false)).collect();
            let mut wanted = vec![state.when];
            while found.len() <= MOST_STATES {
                let Answer::Yes(values) = self.ask(&wanted) else { break };
                let assignment = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
                let bits: Vec<bool> = held.iter().map(|&t| assignment.value(t)).collect();
                let differs: Vec<Term> = held.iter().zip(&bits).map(|(&t, &b)| t.inverted_if(b)).collect();
                let another = self.terms.any(differs);
                wanted.push(another);
                if !found.iter().any(|(b, _)| *b == bits) {
                    found.push((bits, outside.clone()));
                }
            }
        }
        if found.is_empty() || found.len() > MOST_STATES {
            self.states = states;
            self.recount = self.recount.saturating_mul(2);
            return if self.terms.len() > MOST_TERMS { Verdict::TooOpen } else { Verdict::Explained };
        }
        let Some(known) = Known::of(&self.machine, &found) else {
            self.states = states;
            return Verdict::Explained;
        };
        (self.terms, self.solver) = (Terms::new(), None);
        self.known = Some(known);
        Verdict::Explained
    }
}

/// The orders in which changes that lie too close together may have come.
fn orders(inputs: &[(u16, bool)]) -> Vec<Vec<(u16, bool)>> {
    let mut wires: Vec<u16> = inputs.iter().map(|i| i.0).collect();
    wires.sort_unstable();
    wires.dedup();
    if inputs.len() > 3 || wires.len() < inputs.len() || inputs.len() < 2 {
        return vec![inputs.to_vec()];
    }
    let mut all = vec![Vec::new()];
    for &input in inputs {
        all = all
            .into_iter()
            .flat_map(|order: Vec<(u16, bool)>| {
                (0..=order.len()).map(move |k| {
                    let mut longer = order.clone();
                    longer.insert(k, input);
                    longer
                })
            })
            .collect();
    }
    // as it was captured first
    all.sort_by_key(|order| order != inputs);
    all
}
