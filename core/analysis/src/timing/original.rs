//! The times at the contacts of a traced board.
use std::collections::BTreeSet;

use super::arcs::{Arcs, DelayArc, arcs};
use super::paths::{Arrivals, Graph, Place, after};
use super::{At, Kind, Longest, Timing};
use gluewright_kernel::board::{Board, Netlist};

/// The times at the contacts of a board, from the figures of its parts.
///
/// Parts without figures count as nought and are named in the notes and in every time that leads through them.
pub fn original(board: &Board) -> Timing {
    let netlist = board.netlist();
    times(board.name(), &netlist, &arcs(&netlist))
}

/// The times at the contacts of a netlist over these arcs.
pub(super) fn times(name: &str, netlist: &Netlist, arcs: &Arcs) -> Timing {
    let graph = Graph::new(arcs, netlist.nets.len());
    let mut timing = Timing {
        of: name.to_owned(),
        notes: arcs.notes.iter().map(|(_, note)| note.clone()).collect(),
        ..Timing::default()
    };
    let contacts: Vec<(At, usize)> = (netlist.nets.iter().enumerate())
        .filter(|(_, net)| !net.is_rail)
        .flat_map(|(i, net)| net.contacts.iter().map(move |l| (At { label: l.to_string(), name: net.name.clone() }, i)))
        .collect();
    let ways: Vec<Arrivals<'_>> = contacts.iter().map(|&(_, net)| graph.from(net)).collect();
    let loops: BTreeSet<&str> = ways.iter().flat_map(Arrivals::loops).map(|arc| &*arc.through).collect();
    if !loops.is_empty() {
        let all: Vec<&str> = loops.into_iter().collect();
        timing.notes.push(format!("there are loops, and a path goes round each once: {}", all.join(", ")));
    }
    if ways.iter().any(Arrivals::is_cut) {
        timing.gap = Some(format!("{name} has loops of nets with more ways round than are followed: no time is known"));
    }
    let mut rows = Longest::default();
    for ((from, source), way) in contacts.iter().zip(&ways) {
        for (to, target) in contacts.iter().filter(|(_, target)| target != source) {
            for place in Place::of(*target) {
                let kind = if place.registered { Kind::ClockToOutput } else { Kind::Propagation };
                way.at(place).into_iter().for_each(|time| rows.take(kind, from, to, time));
            }
            for arc in arcs.delays.iter().filter(|arc| arc.to == *target && arc.is_end) {
                turned(&mut rows, way, arc, from, to);
            }
        }
        pulses(&mut rows, netlist, *source, from);
    }
    for sampling in &arcs.samplings {
        let any = |net| Place::of(net).into_iter();
        for ((clock, _), clocked) in contacts.iter().zip(&ways) {
            let Some(arrives) = clocked.latest(any(sampling.clock)) else { continue };
            for ((from, _), way) in contacts.iter().zip(&ways) {
                let direct = way.latest(any(sampling.data).filter(|p| !p.registered));
                let stored = way.latest(any(sampling.data).filter(|p| p.registered));
                let setup = |time| after(time, &sampling.through, "setup time", sampling.setup.as_ref());
                if from == clock {
                    stored.into_iter().for_each(|time| rows.take(Kind::Period, from, clock, setup(time)));
                    continue;
                }
                let reaches = direct.is_some();
                direct.into_iter().chain(stored).for_each(|time| rows.take(Kind::Setup, from, clock, setup(time)));
                if reaches && !sampling.is_recovery {
                    let hold = after(arrives.clone(), &sampling.through, "hold time", sampling.hold.as_ref());
                    rows.take(Kind::Hold, from, clock, hold);
                }
            }
        }
    }
    timing.rows = rows.rows;
    timing.finish()
}

/// What an arc that turns a contact on and off adds.
fn turned(rows: &mut Longest, way: &Arrivals<'_>, arc: &DelayArc, from: &At, to: &At) {
    let Some(turned) = way.latest(Place::of(arc.from)) else { return };
    for figure in [&arc.rise, &arc.fall] {
        rows.take(Kind::Enable, from, to, after(turned.clone(), &arc.through, "enable time", figure.as_ref()));
    }
    rows.take(Kind::Disable, from, to, after(turned, &arc.through, "disable time", arc.off.as_ref()));
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
                let time = after(Default::default(), &through, "pulse width", Some(&width.least));
                rows.take(kind, at, at, time);
            }
        }
    }
}
