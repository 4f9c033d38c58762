//! What no drawn run showed, asked of the solver: is there a settled state of the original from which it happens?
use std::collections::{BTreeSet, HashMap};

use super::{At, Edge, Kind, Row};
use gluewright_kernel::board::{Behaviour, Board, Netlist};
use gluewright_kernel::circuit::{Label, Stage};
use gluewright_kernel::machine::{Freedom, Limits, Machine, NodeId, Point, Symbolic};
use gluewright_kernel::solver::{Answer, Effort, Solver};
use gluewright_kernel::terms::{Assignment, Node, Term, Terms};

/// Elementary steps of the solver for one question.
const STEPS: u32 = 200_000;

/// A loop that takes more rounds than this is not followed.
const ROUNDS: usize = 16;

/// The solver's answer.
pub(super) enum Asked {
    /// No settled state lets it happen.
    Never,
    /// It may happen from here.
    Start(Start),
    /// It gave up.
    NotKnown,
}

/// An event: the contact's port, and how it changes.
type Event = (usize, Edge);

/// Questions about one board.
pub(super) struct Questions {
    pub(super) machine: Machine,
    /// The chip and name in its part of each cell.
    pub(super) cells: Vec<Option<(usize, String)>>,
    elements: Vec<Sampled>,
    /// The ports that only pull low.
    pulls: Vec<bool>,
    terms: Terms,
    solver: Solver,
    settled: Vec<Term>,
    points: HashMap<Vec<Event>, Point<Term>>,
}

/// A level that the solver gave, and whether it counts for what was asked.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    pub(super) high: bool,
    pub(super) counts: bool,
}

/// A state from which something happens: levels of contacts, bits of parts by chip and name, and what changes then.
pub(super) struct Start {
    pub(super) levels: Vec<(String, Wanted)>,
    pub(super) bits: Vec<((usize, String), Wanted)>,
    pub(super) events: Vec<String>,
}

/// A register or latch.
struct Sampled {
    is_register: bool,
    gate: NodeId,
    data: NodeId,
    forced: [NodeId; 2],
}

impl Questions {
    /// Nothing for a board that is no circuit, or that has parts of which nobody knows what they do.
    pub(super) fn new(board: &Board, netlist: &Netlist) -> Option<Self> {
        let circuit = board.circuit().ok()?;
        if netlist.chips.iter().any(|chip| *chip.part.behaviour() != Behaviour::Logic) {
            return None;
        }
        let machine = Machine::new(&circuit);
        let mut terms = Terms::new();
        let outside: Vec<Term> = machine.ports().iter().map(|_| terms.variable()).collect();
        let bits: Vec<Term> = machine.cells().iter().map(|_| terms.variable()).collect();
        let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
        let start = machine.point(&mut algebra, &outside, &bits);
        let settled = (0..machine.cells().len()).map(|cell| machine.rests(&mut algebra, &start, cell)).collect();
        let node = |e| machine.node_of(e);
        let elements = circuit.elements().iter().filter_map(|e| {
            let forced = [node(e.clear)?, node(e.preset)?];
            let (gate, data) = (node(e.gate())?, node(e.data())?);
            Some(Sampled { is_register: e.is_register(), gate, data, forced })
        });
        let elements = elements.collect();
        let own = netlist.chips.iter().enumerate().flat_map(|(at, chip)| {
            let bits = chip.part.circuit().elements().iter();
            bits.map(move |e| (format!("{}.{}", chip.reference, e.name), (at, e.name.clone())))
        });
        let own: HashMap<String, (usize, String)> = own.collect();
        let cells = machine.cells().iter().map(|cell| own.get(&cell.name).cloned()).collect();
        let pulls = circuit.contacts().iter().map(|contact| {
            let drivers = circuit.nets().get(contact.net.index()).map_or(&[][..], |net| &net.drivers);
            !drivers.is_empty() && drivers.iter().all(|d| d.stage == Stage::OpenCollector)
        });
        let pulls = pulls.collect();
        let solver = Solver::new(Effort { milliseconds: 0, steps: STEPS, ..Effort::default() });
        let points = HashMap::from([(Vec::new(), start)]);
        Some(Questions { machine, cells, elements, pulls, terms, solver, settled, points })
    }

    /// Whether a settled state lets the row happen. Pulses on the way don't count.
    pub(super) fn ask(&mut self, row: &Row) -> Asked {
        let Some((events, stands, ways)) = self.happens(row) else { return Asked::NotKnown };
        for way in ways {
            let happens: Vec<Term> = stands.iter().copied().chain([way]).collect();
            let all: Vec<Term> = self.settled.iter().chain(&happens).copied().collect();
            match self.solver.satisfy(&self.terms, &all) {
                Answer::No => {}
                Answer::Yes(values) => return Asked::Start(self.start(&values, &events, &happens)),
                Answer::Unknown(_) => return Asked::NotKnown,
            }
        }
        Asked::Never
    }

    /// The events of a row, how their contacts stand before each, and the ways in which they may bring it about.
    fn happens(&mut self, row: &Row) -> Option<(Vec<Event>, Vec<Term>, Vec<Term>)> {
        let port = |at: &At| self.machine.port(&Label::new(&at.label));
        let (first, second) = ((port(&row.from)?, row.from_edge?), (port(&row.to)?, row.to_edge?));
        let events = match row.kind {
            Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable => vec![first],
            Kind::Setup | Kind::Recovery => vec![first, second],
            Kind::Hold => vec![second, first],
            Kind::Period if first == second => vec![first, (first.0, first.1.other()), second],
            Kind::Period => vec![first, second],
            Kind::HighPulse | Kind::LowPulse => return None,
        };
        for some in 1..=events.len() {
            self.step(&events[..some]);
        }
        let points: Vec<Point<Term>> =
            (0..=events.len()).filter_map(|some| self.points.get(&events[..some]).cloned()).collect();
        let ways = match (row.kind, points.as_slice()) {
            (Kind::Setup | Kind::Recovery, [a, b, c]) => vec![self.sampled(row.kind, [b, c], [a, b])],
            // what the edge takes up depends on the data as they would change before it, or as they change after it
            (Kind::Hold, [a, b, c]) => {
                self.step(&[first]);
                let sooner = self.points.get(&[first][..]).cloned()?;
                vec![self.sampled(row.kind, [a, b], [a, &sooner]), self.sampled(row.kind, [a, b], [b, c])]
            }
            (Kind::Period, [a, b, c, d]) => vec![self.sampled(row.kind, [c, d], [a, b])],
            (Kind::Period, [a, b, c]) => vec![self.sampled(row.kind, [b, c], [a, b])],
            _ => vec![self.shows(row.kind, second, &points)?],
        };
        let level = |(event, point): (&Event, &Point<Term>)| {
            Some(self.machine.outside(point).get(event.0)?.inverted_if(event.1 == Edge::Rise))
        };
        let stands = events.iter().zip(&points).map(level).collect::<Option<Vec<Term>>>()?;
        Some((events, stands, ways))
    }

    fn step(&mut self, events: &[Event]) {
        let Some((last, before)) = events.split_last() else { return };
        if self.points.contains_key(events) {
            return;
        }
        let Some(from) = self.points.get(before) else { return };
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Free);
        let change = [(last.0, Term::constant(last.1 == Edge::Rise))];
        let limits = Limits { phases: ROUNDS, iterations: ROUNDS };
        let point = self.machine.step(&mut algebra, from, &change, limits).point;
        self.points.insert(events.to_vec(), point);
    }

    /// A contact shows a change after one event.
    fn shows(&mut self, kind: Kind, (port, edge): Event, points: &[Point<Term>]) -> Option<Term> {
        let [before, after] = points else { return None };
        let ((d0, l0), (d1, l1)) = (self.machine.shown(before, port), self.machine.shown(after, port));
        let rises = edge == Edge::Rise;
        let terms = &mut self.terms;
        Some(match kind {
            Kind::Enable => terms.all([!d0, d1, l1.inverted_if(!rises)]),
            Kind::Disable => terms.all([d0, !d1, l0.inverted_if(!rises)]),
            _ if self.pulls.get(port) == Some(&true) => terms.all([d0.inverted_if(!rises), d1.inverted_if(rises)]),
            _ => terms.all([d0, d1, l0.inverted_if(rises), l1.inverted_if(!rises)]),
        })
    }

    /// A register or latch takes up around one event what another changes, or is released by it.
    fn sampled(&mut self, kind: Kind, [acts, acted]: [&Point<Term>; 2], [was, is]: [&Point<Term>; 2]) -> Term {
        let (machine, terms) = (&self.machine, &mut self.terms);
        let mut any = Term::FALSE;
        for e in &self.elements {
            let at = |point, node| machine.value(point, node);
            let [g0, g1] = [at(acts, e.gate), at(acted, e.gate)];
            let edge = if e.is_register { [!g0, g1] } else { [g0, !g1] };
            let mut forced = |point| terms.or(at(point, e.forced[0]), at(point, e.forced[1]));
            let [before, after] = [forced(acts), forced(acted)];
            let matters = match kind {
                Kind::Recovery if !e.is_register => continue,
                Kind::Recovery => forced(was),
                _ => terms.xor(at(was, e.data), at(is, e.data)),
            };
            let happens = terms.all([edge[0], edge[1], !before, !after, matters]);
            any = terms.or(any, happens);
        }
        any
    }

    /// The variables that make these terms true: the others may have any value.
    fn that_count(&self, terms: &[Term], values: &[bool]) -> BTreeSet<u32> {
        let assignment = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        let (mut count, mut seen, mut open) = (BTreeSet::new(), BTreeSet::new(), terms.to_vec());
        while let Some(term) = open.pop() {
            match self.terms.node(term) {
                _ if !seen.insert(term.node()) => {}
                Node::False => {}
                Node::Variable(v) => {
                    count.insert(v);
                }
                // one false operand is enough for a false conjunction
                Node::And(a, b) if assignment.value(a) == assignment.value(b) && assignment.value(a) => {
                    open.extend([a, b]);
                }
                Node::And(a, b) => open.push(if assignment.value(a) { b } else { a }),
            }
        }
        count
    }

    fn start(&self, values: &[bool], events: &[Event], happens: &[Term]) -> Start {
        let ports = self.machine.ports();
        let count = self.that_count(happens, values);
        let mut all = (0..).zip(values).map(|(v, &high)| Wanted { high, counts: count.contains(&v) });
        let levels = ports.iter().zip(all.by_ref()).map(|(p, wanted)| (p.label.to_string(), wanted)).collect();
        let bits = self.cells.iter().zip(all).filter_map(|(cell, wanted)| Some((cell.clone()?, wanted))).collect();
        let events = events.iter().filter_map(|&(port, _)| Some(ports.get(port)?.label.to_string())).collect();
        Start { levels, bits, events }
    }
}
