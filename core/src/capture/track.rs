//! A circuit beside a capture: every state that it may be in, narrowed down by what the contacts showed.
//!
//! A state is a point of the machine over terms of a start that nobody knows, with the condition under which it is the
//! one; orders of changes that the skew leaves open make several. Once everything is known the terms are constants, and a
//! step costs no more than a simulation.
use crate::circuit::Circuit;
use crate::machine::{Freedom, Limits, Machine, Point, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::channels::Wired;
use super::moments::{Moment, Moments};
use super::record::Sample;

/// Different states that are kept side by side.
const MOST_STATES: usize = 64;
/// Terms at which what is known is counted anew, state by state.
const MANY_TERMS: usize = 1 << 16;
const MOST_TERMS: usize = 1 << 21;

/// One state, and when it is the one.
struct State {
    point: Point<Term>,
    when: Term,
}

/// A circuit on its way along a capture.
pub(super) struct Track<'w> {
    machine: Machine,
    wired: &'w Wired,
    /// The port of each wire.
    ports: Vec<Option<usize>>,
    terms: Terms,
    /// Made when the first question comes: most faults are told without one.
    solver: Option<Solver>,
    states: Vec<State>,
    recount: usize,
}

/// What one wire disagrees about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Disagreement {
    pub(super) wire: usize,
    pub(super) seen: Sample,
    /// What the circuit would show there, if that is one thing.
    pub(super) would: Option<Sample>,
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

fn limits() -> Limits {
    Limits { phases: 24, iterations: 24 }
}

impl<'w> Track<'w> {
    pub(super) fn new(circuit: &Circuit, wired: &'w Wired) -> Self {
        let machine = Machine::new(circuit);
        let ports = wired.wires.iter().map(|w| machine.ports().iter().position(|p| p.label == w.label)).collect();
        Track { machine, wired, ports, terms: Terms::new(), solver: None, states: Vec::new(), recount: MANY_TERMS }
    }

    /// Which wires the circuit reads.
    pub(super) fn reads(&self) -> Vec<bool> {
        self.ports.iter().map(|p| p.is_some_and(|p| self.machine.reads_outside(p))).collect()
    }

    /// Contacts that the circuit reads and that have neither a channel nor a level.
    pub(super) fn missing(&self) -> Vec<String> {
        let has = |label: &crate::circuit::Label| {
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
        let mut outside = vec![Term::FALSE; self.machine.ports().len()];
        for (port, level) in self.ports.iter().zip(levels) {
            if let Some(slot) = port.and_then(|p| outside.get_mut(p)) {
                *slot = Term::constant(level);
            }
        }
        for (label, high) in &self.wired.fixed {
            if let Some(p) = self.machine.ports().iter().position(|p| p.label == *label) {
                outside[p] = Term::constant(*high);
            }
        }
        let cells: Vec<Term> = self.machine.cells().iter().map(|_| self.terms.variable()).collect();
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Free);
        let asleep = self.machine.point(&mut algebra, &outside, &cells);
        let woken = self.machine.rest(&mut algebra, &asleep, limits());
        self.states = vec![State { point: woken.point, when: !woken.unsettled }];
        self.look(first)
    }

    /// One moment on.
    pub(super) fn step(&mut self, moment: &Moment) -> Verdict {
        if !moment.inputs.is_empty() {
            let orders = orders(&moment.inputs);
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

    /// Narrows the states down by what the contacts show.
    fn look(&mut self, moment: &Moment) -> Verdict {
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
        if self.terms.len() > self.recount { self.count_anew() } else { Verdict::Explained }
    }

    fn ask(&mut self, wanted: &[Term]) -> Answer {
        self.solver.get_or_insert_with(|| Solver::new(Effort::default())).satisfy(&self.terms, wanted)
    }

    /// When a state shows at a contact what was seen there.
    fn alike(&mut self, point: &Point<Term>, wire: usize, moment: &Moment) -> Term {
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

    /// The contacts that no state gets right, or, if each is right in some state, those that don't go together.
    fn disagreements(&mut self, states: &[State], moment: &Moment) -> Vec<Disagreement> {
        let wires = self.wired.wires.len();
        let mut wrong = Vec::new();
        for wire in 0..wires {
            let fits = states.iter().any(|s| {
                let alike = self.alike(&s.point, wire, moment);
                let both = self.terms.and(s.when, alike);
                both != Term::FALSE && !matches!(self.ask(&[both]), Answer::No)
            });
            if !fits {
                wrong.push(wire);
            }
        }
        if wrong.is_empty() {
            for s in states {
                let mut when = s.when;
                let at = (0..wires).find(|&wire| {
                    let alike = self.alike(&s.point, wire, moment);
                    when = self.terms.and(when, alike);
                    when == Term::FALSE || matches!(self.ask(&[when]), Answer::No)
                });
                wrong.extend(at);
            }
            wrong.sort_unstable();
            wrong.dedup();
        }
        let would = |wire: usize| {
            let port = self.ports.get(wire).copied().flatten()?;
            let mut all = states.iter().map(|s| {
                let (drive, level) = self.machine.shown(&s.point, port);
                match (drive.as_constant(), level.as_constant()) {
                    (Some(false), _) => Some(Sample::Floating),
                    (Some(true), Some(high)) => Some(if high { Sample::High } else { Sample::Low }),
                    _ => None,
                }
            });
            let first = all.next().flatten()?;
            all.all(|s| s == Some(first)).then_some(first)
        };
        wrong
            .into_iter()
            .map(|wire| Disagreement {
                wire,
                seen: moment.seen.get(wire).copied().unwrap_or(Sample::Unknown),
                would: would(wire),
            })
            .collect()
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
        self.terms = Terms::new();
        self.solver = None;
        self.recount = MANY_TERMS;
        self.states = found
            .into_iter()
            .map(|(bits, outside)| {
                let constants = |of: &[bool]| of.iter().map(|&b| Term::constant(b)).collect::<Vec<_>>();
                let mut algebra = Symbolic::new(&mut self.terms, Freedom::Free);
                let point = self.machine.point(&mut algebra, &constants(&outside), &constants(&bits));
                State { point, when: Term::TRUE }
            })
            .collect();
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
