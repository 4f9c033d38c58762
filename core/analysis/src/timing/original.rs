//! The times at the contacts of a traced board: what its runs show, and what its figures add up to at most.
use std::collections::BTreeSet;

use super::arcs::{Arcs, DelayArc, arcs};
use super::influence::Way;
use super::paths::{Arrivals, Graph, Place, after};
use super::walk::shown;
use super::{At, Edge, Kind, Longest, Timing};
use gluewright_kernel::board::{Board, Netlist, PinRole};
use gluewright_kernel::circuit::Stage;

/// The times at the contacts of a board, from the figures of its parts: of each row the longest that a run of the board
/// shows, every part by its sheet's longest delay. What no run shows and nobody could rule out is there as not known.
///
/// A part without a figure counts as nought and is named in every time that leads through it: it takes at least so long.
pub fn original(board: &Board) -> Timing {
    let netlist = board.netlist();
    let arcs = arcs(&netlist);
    let bound = times(board.name(), &netlist, &arcs);
    shown(board, &netlist, &arcs, bound)
}

/// The contacts with their nets, rails left out.
pub(super) fn contacts(netlist: &Netlist) -> Vec<(At, usize)> {
    let signals = netlist.nets.iter().enumerate().filter(|(_, net)| !net.is_rail);
    let all = signals.flat_map(|(i, net)| {
        net.contacts.iter().map(move |l| (At { label: l.to_string(), name: net.name.clone() }, i))
    });
    all.collect()
}

/// What the times at the contacts of a netlist never exceed, over these arcs: the longest paths, whatever the logic allows.
pub(super) fn times(name: &str, netlist: &Netlist, arcs: &Arcs) -> Timing {
    let graph = Graph::new(arcs, netlist.nets.len());
    let mut timing = Timing {
        of: name.to_owned(),
        notes: arcs.notes.iter().map(|(_, note)| note.clone()).collect(),
        ..Timing::default()
    };
    let contacts = contacts(netlist);
    let ways: Vec<[Arrivals<'_>; 2]> =
        contacts.iter().map(|&(_, net)| Edge::BOTH.map(|edge| graph.from(net, edge))).collect();
    let loops: BTreeSet<&str> = ways.iter().flatten().flat_map(Arrivals::loops).map(|arc| &*arc.through).collect();
    if !loops.is_empty() {
        let all: Vec<&str> = loops.into_iter().collect();
        timing.notes.push(format!("there are loops, and a path goes round each once: {}", all.join(", ")));
    }
    if ways.iter().flatten().any(Arrivals::is_cut) {
        timing.gap = Some(format!("{name} has loops of nets with more ways round than are followed: no time is known"));
    }
    let from = || {
        // what the card drives at all times is no contact that the board changes or keeps steady
        let both = contacts.iter().zip(&ways).filter(|((_, net), _)| !is_driven(netlist, *net));
        both.flat_map(|((at, net), ways)| {
            Edge::BOTH.into_iter().zip(ways).map(move |(edge, way)| (at, *net, edge, way))
        })
    };
    let mut rows = Longest::default();
    for (at, source, edge, way) in from() {
        for (to, target) in contacts.iter().filter(|(_, target)| *target != source) {
            for place in Place::of(*target) {
                let kind = if place.registered { Kind::ClockToOutput } else { Kind::Propagation };
                let time = way.at(place);
                time.into_iter().for_each(|t| rows.take(kind, (at, Some(edge)), (to, Some(place.edge)), t));
            }
            for arc in arcs.delays.iter().filter(|arc| arc.to == *target && arc.is_end) {
                turned(&mut rows, way, arc, (at, Some(edge)), to);
            }
        }
    }
    for (at, net) in &contacts {
        pulses(&mut rows, netlist, *net, at);
    }
    for sampling in &arcs.samplings {
        let changes = |net, edges: [bool; 2]| Place::of(net).into_iter().filter(move |place| edges[place.edge.index()]);
        let kind = if sampling.is_recovery { Kind::Recovery } else { Kind::Setup };
        for (clock, _, clock_edge, clocked) in from() {
            let Some(arrives) = clocked.latest(changes(sampling.clock, sampling.clock_edges)) else { continue };
            for (at, _, edge, way) in from() {
                let data = || changes(sampling.data, sampling.data_edges);
                let direct = way.latest(data().filter(|p| !p.registered));
                let stored = way.latest(data().filter(|p| p.registered));
                let ends = |time| after(time, &sampling.through, sampling.before(), sampling.setup[0].as_ref());
                let (from, to) = ((at, Some(edge)), (clock, Some(clock_edge)));
                if at == clock {
                    stored.into_iter().for_each(|time| rows.take(Kind::Period, from, to, ends(time)));
                    continue;
                }
                let reaches = direct.is_some();
                direct.into_iter().chain(stored).for_each(|time| rows.take(kind, from, to, ends(time)));
                if reaches && !sampling.is_recovery {
                    let hold = after(arrives.clone(), &sampling.through, "hold time", sampling.hold[0].as_ref());
                    rows.take(Kind::Hold, from, to, hold);
                }
            }
        }
    }
    timing.rows = rows.rows;
    timing.finish()
}

/// Whether an output that is never off drives a net.
fn is_driven(netlist: &Netlist, net: usize) -> bool {
    let pins = netlist.nets.get(net).map_or(&[][..], |net| &net.pins);
    pins.iter().any(|(.., role)| *role == PinRole::Output(Stage::PushPull))
}

/// What an arc that turns a contact on or off adds.
fn turned(rows: &mut Longest, way: &Arrivals<'_>, arc: &DelayArc, from: (&At, Option<Edge>), to: &At) {
    let (kind, what) = match arc.way {
        Way::Off => (Kind::Disable, "disable time"),
        _ => (Kind::Enable, "enable time"),
    };
    for (edge, figure) in Edge::BOTH.into_iter().zip(&arc.most) {
        let causes = Place::of(arc.from).into_iter().filter(|place| arc.edges.has(place.edge, edge));
        let Some(turned) = way.latest(causes) else { continue };
        rows.take(kind, from, (to, Some(edge)), after(turned, &arc.through, what, figure.as_ref()));
    }
}

/// The pulses that parts directly on a contact's net ask for.
fn pulses(rows: &mut Longest, netlist: &Netlist, net: usize, at: &At) {
    let pins = netlist.nets.get(net).map_or(&[][..], |net| &net.pins);
    for (chip, pin, _) in pins {
        let Some(chip) = netlist.chips.get(*chip) else { continue };
        for width in chip.part.figures().into_iter().flat_map(|f| &f.widths).filter(|w| w.pin == *pin) {
            let kinds = match width.high {
                Some(true) => &[Kind::HighPulse][..],
                Some(false) => &[Kind::LowPulse],
                None => &[Kind::HighPulse, Kind::LowPulse],
            };
            let through = format!("{} pin {pin}", chip.called());
            for &kind in kinds {
                rows.pulse(kind, at, after(Default::default(), &through, "pulse width", Some(&width.least)));
            }
        }
    }
}
