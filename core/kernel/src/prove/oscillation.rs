//! Oscillation: the side that never comes to rest, from which levels, and through which nets.
use std::fmt;

use crate::circuit::{Circuit, NetId};
use crate::machine::{Lanes, Limits, Point};

use super::draw::Draw;
use super::hidden::Of;
use super::pair::{Pair, REPLACEMENT};
use super::run::Run;

/// Batches of 64 drawn starts from which a side is run.
const STARTS: usize = 24;

/// Laps over all kinds of events after each of them.
const LAPS: usize = 2;

/// More nets than this are counted, not named.
const MOST_NAMES: usize = 8;

/// A side that oscillates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Oscillation {
    /// Which side.
    pub of: Of,
    /// From where: levels at the contacts, and what the board does then, in words.
    pub way: String,
    /// The nets, registers and latches whose levels never stop changing.
    pub through: Vec<String>,
}

impl fmt::Display for Oscillation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the {} does not come to rest {}", self.of, self.way)?;
        let named: Vec<String> = self.through.iter().take(MOST_NAMES).map(|n| format!("`{n}`")).collect();
        match (named.is_empty(), self.through.len().saturating_sub(MOST_NAMES)) {
            (true, _) => Ok(()),
            (false, 0) => write!(f, ": it swings through {}", named.join(", ")),
            (false, more) => write!(f, ": it swings through {} and {more} more", named.join(", ")),
        }
    }
}

impl Oscillation {
    /// What the user can do about it.
    pub(super) fn help(&self) -> String {
        let mend = match self.of {
            Of::Original => {
                "a pin on the wrong net makes such a loop, so measure these again; if the board never does this, say so with \
                 an assumption"
            }
            Of::Replacement => "break the loop, or say with an assumption that the board never does this",
        };
        format!("what swings for ever has no settled level that could be compared: {mend}")
    }
}

/// A run after which one side does not come to rest.
struct Swing {
    levels: Vec<bool>,
    cells: Vec<bool>,
    events: Vec<Vec<(usize, bool)>>,
}

/// The side of a run that does not come to rest after it, as far as starts are drawn that don't.
pub(super) fn after(pair: &Pair, circuit: &Circuit, side: usize, run: &Run, way: String) -> Oscillation {
    let mut draw = Draw::new(1789);
    let cells = pair.machines[side].cells().len();
    let starts = (0..STARTS).map(|k| match (side, k) {
        (REPLACEMENT, 0) => run.cells.iter().map(|&b| if b { u64::MAX } else { 0 }).collect(),
        _ => pair.starts(side, word, |_| draw.word()),
    });
    let mut through = Vec::new();
    for start in starts.collect::<Vec<Vec<u64>>>() {
        let swing = |lane: u32| Swing {
            levels: run.levels.clone(),
            cells: (0..cells).map(|c| (start[c] >> lane) & 1 == 1).collect(),
            events: run.events.clone(),
        };
        let levels: Vec<u64> = run.levels.iter().map(|&b| word(b)).collect();
        let woken = pair.awake(side, &levels, &start);
        let (mut point, mut unsettled) = (woken.point, woken.unsettled);
        for event in &run.events {
            let change: Vec<_> = event.iter().map(|&(c, b)| (c, word(b))).collect();
            let stepped = pair.step(&mut Lanes::default(), side, &point, &change, pair.ample());
            (point, unsettled) = (stepped.point, stepped.unsettled);
        }
        if unsettled != 0 {
            through = nets(pair, circuit, side, &swing(unsettled.trailing_zeros()));
            break;
        }
    }
    Oscillation { of: of(side), way, through }
}

/// A side that does not come to rest after some drawn run, if one is found soon.
pub(super) fn drawn(pair: &Pair, circuits: [&Circuit; 2]) -> Option<Oscillation> {
    (0..2).find_map(|side| {
        let swing = find(pair, side)?;
        let way = words(pair, &swing);
        Some(Oscillation { of: of(side), way, through: nets(pair, circuits[side], side, &swing) })
    })
}

fn of(side: usize) -> Of {
    if side == REPLACEMENT { Of::Replacement } else { Of::Original }
}

fn word(high: bool) -> u64 {
    if high { u64::MAX } else { 0 }
}

fn find(pair: &Pair, side: usize) -> Option<Swing> {
    let mut draw = Draw::new(1789);
    for _ in 0..STARTS {
        let first = draw.levels(pair)?;
        let cells: Vec<u64> = pair.starts(side, word, |_| draw.word());
        let woken = pair.awake(side, &first, &cells);
        let mut changes: Vec<Vec<(usize, u64, u64)>> = Vec::new();
        let (mut point, mut unsettled, mut levels) = (woken.point, woken.unsettled, first.clone());
        let order: Vec<usize> = (0..LAPS).flat_map(|_| draw.lap(pair)).collect();
        let mut order = order.into_iter();
        while unsettled == 0 {
            let Some(event) = order.next().and_then(|e| pair.events.get(e)) else { break };
            let change = draw.flip(pair, &levels, &pair.card(side, &point), event);
            changes.push(change.iter().map(|&(c, to)| (c, levels[c] ^ to, to)).collect());
            for &(c, to) in &change {
                levels[c] = to;
            }
            let stepped = pair.step(&mut Lanes::default(), side, &point, &change, pair.ample());
            (point, unsettled) = (stepped.point, stepped.unsettled);
        }
        if unsettled == 0 {
            continue;
        }
        let lane = unsettled.trailing_zeros();
        let bit = |w: &u64| (w >> lane) & 1 == 1;
        let events = changes
            .iter()
            .map(|e| e.iter().filter(|(_, moved, _)| bit(moved)).map(|(c, _, to)| (*c, bit(to))).collect())
            .filter(|e: &Vec<_>| !e.is_empty());
        return Some(Swing {
            levels: first.iter().map(bit).collect(),
            cells: cells.iter().map(bit).collect(),
            events: events.collect(),
        });
    }
    None
}

/// From where: the levels at which it last rested, and the event after which it does not.
fn words(pair: &Pair, swing: &Swing) -> String {
    let named = |c: usize, high: bool| {
        let contact = &pair.contacts[c];
        format!("{} {} {}", contact.label, contact.name, if high { "high" } else { "low" })
    };
    let mut levels = swing.levels.clone();
    let (last, before) = swing.events.split_last().map_or((None, &[][..]), |(last, before)| (Some(last), before));
    for &(c, high) in before.iter().flatten() {
        levels[c] = high;
    }
    let at: Vec<String> =
        (0..pair.contacts.len()).filter(|&c| pair.contacts[c].is_free).map(|c| named(c, levels[c])).collect();
    let at = if at.is_empty() { String::new() } else { format!(" with {}", at.join(", ")) };
    match last {
        None => format!("at power-up{at}"),
        Some(event) => {
            let changes: Vec<String> = event.iter().map(|&(c, high)| named(c, high)).collect();
            format!("at rest{at}, once {} goes", changes.join(" and "))
        }
    }
}

/// Everything whose level still changes when it has had time to settle.
fn nets(pair: &Pair, circuit: &Circuit, side: usize, swing: &Swing) -> Vec<String> {
    let machine = &pair.machines[side];
    let levels: Vec<u64> = swing.levels.iter().map(|&b| word(b)).collect();
    let cells: Vec<u64> = swing.cells.iter().map(|&b| word(b)).collect();
    let mut point = pair.awake(side, &levels, &cells).point;
    for event in &swing.events {
        let change: Vec<_> = event.iter().map(|&(c, b)| (c, word(b))).collect();
        point = pair.step(&mut Lanes::default(), side, &point, &change, pair.ample()).point;
    }
    let all: Vec<NetId> = (0..circuit.nets().len()).map(NetId::at).collect();
    let seen = |point: &Point<u64>| -> Vec<u64> {
        let nets = all.iter().map(|&n| machine.node_of_net(n).map_or(0, |node| machine.value(point, node)));
        nets.chain(machine.held(point)).map(|w| w & 1).collect()
    };
    let first = seen(&point);
    let mut moves = vec![false; first.len()];
    // one round at a time: in this many, every loop has gone round
    for _ in 0..2 * machine.cells().len() + 8 {
        point = machine.rest(&mut Lanes::default(), &point, Limits { phases: 1, iterations: 1 }).point;
        for (moved, (was, now)) in moves.iter_mut().zip(first.iter().zip(seen(&point))) {
            *moved |= *was != now;
        }
    }
    let names = circuit.nets().iter().map(|n| &n.name).chain(machine.cells().iter().map(|c| &c.name));
    let mut through: Vec<String> =
        moves.iter().zip(names).filter(|(moved, _)| **moved).map(|(_, n)| n.clone()).collect();
    let mut taken = std::collections::HashSet::new();
    through.retain(|n| taken.insert(n.clone()));
    through
}
