//! What no drawn run showed, asked of the solver: is there a settled state of the original from which it happens?
use std::collections::HashMap;

use super::walk::Start;
use super::{At, Edge, Kind, Row};
use gluewright_kernel::board::{Behaviour, Board, Netlist};
use gluewright_kernel::circuit::{Label, Stage};
use gluewright_kernel::machine::{Freedom, Limits, Machine, NodeId, Point, Symbolic};
use gluewright_kernel::solver::{Answer, Effort, Solver};
use gluewright_kernel::terms::{Term, Terms};

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
    machine: Machine,
    /// The chip and name in its part of each cell.
    cells: Vec<Option<(usize, String)>>,
    elements: Vec<Sampled>,
    /// The ports that only pull low.
    pulls: Vec<bool>,
    terms: Terms,
    solver: Solver,
    settled: Vec<Term>,
    points: HashMap<Vec<Event>, Point<Term>>,
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
        let port = |at: &At| self.machine.port(&Label::new(&at.label));
        let (Some(from), Some(to), Some(from_edge), Some(to_edge)) =
            (port(&row.from), port(&row.to), row.from_edge, row.to_edge)
        else {
            return Asked::NotKnown;
        };
        let (first, second) = ((from, from_edge), (to, to_edge));
        let events = match row.kind {
            Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable => vec![first],
            Kind::Setup | Kind::Recovery => vec![first, second],
            Kind::Hold => vec![second, first],
            Kind::Period if first == second => vec![first, (from, from_edge.other()), second],
            Kind::Period => vec![first, second],
            Kind::HighPulse | Kind::LowPulse => return Asked::NotKnown,
        };
        for some in 1..=events.len() {
            self.step(&events[..some]);
        }
        let points: Vec<Point<Term>> =
            (0..=events.len()).filter_map(|some| self.points.get(&events[..some]).cloned()).collect();
        let happens = match row.kind {
            Kind::Setup | Kind::Recovery | Kind::Hold | Kind::Period => self.sampled(row.kind, &points),
            _ => self.shows(row.kind, second, &points),
        };
        let Some(happens) = happens else { return Asked::NotKnown };
        let mut all = self.settled.clone();
        all.push(happens);
        for (event, point) in events.iter().zip(&points) {
            let Some(&level) = self.machine.outside(point).get(event.0) else { return Asked::NotKnown };
            all.push(level.inverted_if(event.1 == Edge::Rise));
        }
        match self.solver.satisfy(&self.terms, &all) {
            Answer::No => Asked::Never,
            Answer::Yes(values) => Asked::Start(self.start(&values, &events)),
            Answer::Unknown(_) => Asked::NotKnown,
        }
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

    /// A register or latch takes up at one event what another changes, or is released by it.
    fn sampled(&mut self, kind: Kind, points: &[Point<Term>]) -> Option<Term> {
        // the points around the edge that counts, and those around the change of the data
        let ([acts, acted], [was, is]) = match (kind, points) {
            (Kind::Hold, [a, b, c]) => ([a, b], [b, c]),
            (Kind::Period, [a, b, c, d]) => ([c, d], [a, b]),
            (_, [a, b, c]) => ([b, c], [a, b]),
            _ => return None,
        };
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
        Some(any)
    }

    fn start(&self, values: &[bool], events: &[Event]) -> Start {
        let ports = self.machine.ports();
        let label = |port: usize| ports.get(port).map_or_else(String::new, |p| p.label.to_string());
        let levels = ports.iter().zip(values).map(|(p, &high)| (p.label.to_string(), high)).collect();
        let bits = self.cells.iter().zip(values.iter().skip(ports.len())).filter_map(|(cell, &high)| {
            let (chip, name) = cell.clone()?;
            Some((chip, name, high))
        });
        let events = events.iter().map(|&(port, edge)| (label(port), edge == Edge::Rise)).collect();
        Start { levels, bits: bits.collect(), events }
    }
}
