//! Chains of gates that delay: a level meets itself in a gate, once at once and once by a longer way, and what comes later
//! adds nothing once everything has come to rest. So an edge is delayed, or a pulse is made longer.
//!
//! What comes later is what must be idle. The same enable at two levels of a decoder is idle where it comes first, and a
//! term that is kept against hazards is covered by several others together, by none alone: neither delays anything.
use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Expr, NetId, Vertex};
use crate::machine::{Freedom, Lanes, Machine, Point, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::super::draw::Draw;
use super::pins::{Depths, Pin, Where, gates};
use super::reach::Reached;
use super::{Hidden, Of, Why};

/// Drawn states, 64 in each.
const DRAWN: usize = 4;

/// Nets of one circuit that add nothing where they arrive late, and that reach something that answers to an edge.
pub(in super::super) fn late(of: Of, circuit: &Circuit, machine: &Machine, effort: Effort) -> Vec<Hidden> {
    let depths = Depths::of(circuit);
    let mut levels = None;
    // of each net that comes late: what it meets, and where
    let mut found: BTreeMap<NetId, (Pin, Vec<Where>)> = BTreeMap::new();
    for gate in gates(circuit) {
        let mut pins = gate.pins.clone();
        pins.sort_by_key(|p| depths.at(p.level));
        pins.dedup();
        let [Some(first), Some(last)] = [pins.first(), pins.last()].map(|p| p.map(|p| depths.at(p.level))) else {
            continue;
        };
        if first == last {
            continue;
        }
        let levels = levels.get_or_insert_with(|| Levels::new(machine, effort));
        for (i, &late) in pins.iter().enumerate() {
            let sooner = pins[..i].iter().filter(|p| depths.at(p.level) < depths.at(late.level));
            let adds_nothing = |&&p: &&Pin| {
                is_idle(circuit, &depths, levels, p, late)
                    || gate.selects && is_idle(circuit, &depths, levels, p, late.opposite())
            };
            let Some(&beside) = sooner.into_iter().find(adds_nothing) else { continue };
            let Some(net) = read(circuit, late.level).0.into_iter().max_by_key(|&n| depths.of_net(n)) else { continue };
            let at = gate.meeting(circuit, [beside, late]);
            let (_, all) = found.entry(net).or_insert((beside, Vec::new()));
            if !all.contains(&at) {
                all.push(at);
            }
        }
    }
    let mut all = Vec::new();
    for (net, (beside, at)) in found {
        let nets: Vec<NetId> = at.iter().filter_map(|w| if let Where::Wire(n) = w { Some(*n) } else { None }).collect();
        let gates: Vec<Expr> = at.iter().filter_map(|w| if let Where::Gate(e) = w { Some(*e) } else { None }).collect();
        let reaches = Reached::from(circuit, &nets, &gates).answering(circuit);
        if reaches.is_empty() {
            continue;
        }
        let mut names = names(circuit, net).into_iter();
        let name = names.next().unwrap_or_default();
        let why = Why::Late { beside: words(circuit, beside.level) };
        all.push(Hidden { of, call: name.clone(), name, others: names.collect(), why, reaches });
    }
    all
}

/// Whether a pin that comes late adds nothing to one that comes sooner: it is true whenever that is, by itself or by one
/// of the levels that it is made of, or as it hangs on it.
fn is_idle(circuit: &Circuit, depths: &Depths, levels: &mut Levels<'_>, sooner: Pin, late: Pin) -> bool {
    let moves = |pin: Pin| levels.occurs(&[pin]) && levels.occurs(&[pin.opposite()]);
    if levels.occurs(&[sooner, late.opposite()]) || !moves(sooner) || !moves(late) {
        return false;
    }
    let hangs = hangs_on(circuit, late.level, sooner.level);
    if !hangs && holds_loop(circuit, depths, sooner.level) {
        return false;
    }
    // of several that cover it together, none does alone
    let alone = hangs
        || levels.never(&[late, sooner.opposite()])
        || sooner.split_through(circuit, depths).into_iter().any(|part| levels.never(&[part, late.opposite()]));
    alone && levels.never(&[sooner, late.opposite()])
}

/// The levels of a circuit whatever the board, the registers, the latches and the loops hold.
struct Levels<'m> {
    machine: &'m Machine,
    effort: Effort,
    drawn: Vec<Point<u64>>,
    all: Option<(Terms, Point<Term>, Solver)>,
}

impl<'m> Levels<'m> {
    fn new(machine: &'m Machine, effort: Effort) -> Self {
        let mut draw = Draw::new(1889);
        let drawn = (0..DRAWN)
            .map(|_| {
                let outside: Vec<u64> = machine.ports().iter().map(|_| draw.word()).collect();
                let cells: Vec<u64> = machine.cells().iter().map(|_| draw.word()).collect();
                machine.point(&mut Lanes::default(), &outside, &cells)
            })
            .collect();
        Levels { machine, effort, drawn, all: None }
    }

    /// Whether these are true together in a drawn state.
    fn occurs(&self, pins: &[Pin]) -> bool {
        self.drawn.iter().any(|point| {
            pins.iter().fold(u64::MAX, |lanes, pin| {
                let word = self.machine.node_of(pin.level).map_or(0, |n| self.machine.value(point, n));
                lanes & if pin.inverted { !word } else { word }
            }) != 0
        })
    }

    /// Whether these are never true together, as far as the solver can tell.
    fn never(&mut self, pins: &[Pin]) -> bool {
        if self.occurs(pins) {
            return false;
        }
        let machine = self.machine;
        let (terms, point, solver) = self.all.get_or_insert_with(|| {
            let mut terms = Terms::new();
            let outside: Vec<Term> = machine.ports().iter().map(|_| terms.variable()).collect();
            let cells: Vec<Term> = machine.cells().iter().map(|_| terms.variable()).collect();
            let point = machine.point(&mut Symbolic::new(&mut terms, Freedom::Free), &outside, &cells);
            (terms, point, Solver::new(self.effort))
        });
        let value = |pin: &Pin| {
            let value = machine.node_of(pin.level).map_or(Term::FALSE, |n| machine.value(point, n));
            value.inverted_if(pin.inverted)
        };
        let wanted: Vec<Term> = pins.iter().map(value).collect();
        !matches!(solver.satisfy(terms, &wanted), Answer::Yes(_))
    }
}

/// The nets that an expression reads, and the names of the registers and latches.
fn read(circuit: &Circuit, e: Expr) -> (BTreeSet<NetId>, Vec<String>) {
    let cone = circuit.cone([e], Vertex::is_expression);
    let held = cone.elements().filter_map(|e| circuit.elements().get(e.index())).map(|e| e.name.clone());
    (cone.nets().collect(), held.collect())
}

/// What a level is made of, by name.
fn words(circuit: &Circuit, level: Expr) -> String {
    let (nets, held) = read(circuit, level);
    let nets = nets.into_iter().filter_map(|n| names(circuit, n).into_iter().next());
    let mut all: Vec<String> = nets.chain(held).map(|name| format!("`{name}`")).collect();
    all.sort();
    all.dedup();
    match all.len() {
        0 => "another level".to_owned(),
        1..=3 => all.join(" and "),
        n => format!("what is made of {} and {} more", all[..2].join(", "), n - 2),
    }
}

/// A net's names; what an output reads back goes by the output's name first: a bench sees one wire.
fn names(circuit: &Circuit, net: NetId) -> Vec<String> {
    let own = circuit.nets().get(net.index()).map(|n| n.name.clone()).unwrap_or_default();
    // what an output reads back has the output's name
    let bare = own.strip_suffix(" (value)").filter(|bare| circuit.find_net(bare).is_some()).map(str::to_owned);
    bare.into_iter().chain([own]).collect()
}

/// Whether a level is made of another, through gates alone.
fn hangs_on(circuit: &Circuit, level: Expr, on: Expr) -> bool {
    circuit.cone([level], |v| !v.is_element()).contains(on)
}

/// Whether a loop of gates is among what a level is made of.
fn holds_loop(circuit: &Circuit, depths: &Depths, level: Expr) -> bool {
    circuit.cone([level], |v| !v.is_element()).nets().any(|n| depths.in_feedback(n))
}
