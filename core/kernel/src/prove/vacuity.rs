//! Alarms of vacuity: a proof that holds only because the original's freedom was used up. The replacement ignores what the
//! original depends on, never moves what nearly every start of the original moves, or needs the original to do what its
//! data sheets leave open again and again.
use std::sync::Arc;

use crate::circuit::Label;
use crate::machine::{Desk, Lanes, Point, Unknown};
use crate::solver::Effort;

use super::draw::Draw;
use super::hidden::{Hidden, Of, Why};
use super::pair::{Compared, ORIGINAL, Pair, REPLACEMENT};
use super::run::Run;

/// Laps over all kinds of events in drawn runs, 64 side by side.
const LAPS: usize = 16;

/// Of 64 drawn runs of the original, in how many a contact moves that nearly every start moves.
const NEARLY_ALL: u32 = 58;

/// Events of the runs in which open loads are counted.
const EVENTS: usize = 60;

/// How many such runs.
const RUNS: u64 = 2;

/// How often the original may load in one run what a data sheet leaves open: at power-up a counter may stand where no
/// sheet follows it up, and once or twice it may take a while.
const SELDOM: usize = 2;

/// What makes a proof one of little worth. `constant` are the cells of the replacement that never change, if they were
/// looked for.
pub(super) fn alarms(pair: &Arc<Pair>, constant: Option<&[(usize, bool)]>, effort: Effort) -> Vec<Hidden> {
    let mut all = ignored(pair);
    all.extend(still(pair, constant));
    all.extend(open_again(pair, effort));
    all
}

fn of_contact(pair: &Pair, contact: usize, why: Why) -> Hidden {
    let joined = &pair.contacts[contact];
    let mut others: Vec<String> = pair.names_of(joined).into_iter().map(str::to_owned).collect();
    others.retain(|n| *n != joined.name);
    others.push(joined.label.to_string());
    let name = joined.name.clone();
    Hidden { of: Of::Replacement, call: name.clone(), name, others, why, reaches: Vec::new() }
}

/// Contacts that the replacement ignores although what the original shows depends on them in some state that it reaches.
fn ignored(pair: &Pair) -> Vec<Hidden> {
    let mut all = Vec::new();
    for (c, joined) in pair.contacts.iter().enumerate() {
        let reads = |side: usize| joined.ports[side].is_some_and(|p| pair.machines[side].reads_outside(p));
        if !reads(ORIGINAL) {
            continue;
        }
        if joined.ports[REPLACEMENT].is_some_and(|p| pair.machines[REPLACEMENT].reaches(p)) {
            continue;
        }
        if let Some((runs, label, name)) = depends(pair, c) {
            all.push(of_contact(pair, c, Why::Ignored { runs, shows: format!("{label} {name}") }));
        }
    }
    all
}

/// In how many of 64 drawn runs of the original something else shows when one contact has the other level throughout, and
/// a contact at which it does.
fn depends(pair: &Pair, contact: usize) -> Option<(u32, Label, String)> {
    let mut draw = Draw::new(1906);
    let first = draw.levels(pair)?;
    let other = |levels: &[u64]| -> Vec<u64> {
        levels.iter().enumerate().map(|(i, &w)| if i == contact { !w } else { w }).collect()
    };
    let cells: Vec<u64> = pair.starts(ORIGINAL, |v| if v { u64::MAX } else { 0 }, |_| draw.word());
    let mut levels = [first.clone(), other(&first)];
    let mut lanes = pair.allowed(&mut Lanes::default(), &levels[1]);
    let mut sides = [0, 1].map(|k: usize| {
        let woken = pair.awake(ORIGINAL, &levels[k], &cells);
        lanes &= !woken.unsettled;
        woken.point
    });
    let mut desks = [0, 1].map(|_| Desk::new(&pair.machines[ORIGINAL]));
    let (mut differs, mut at) = (0u64, None);
    let mut look = |sides: &[Point<u64>; 2], lanes: u64, contacts: &mut dyn Iterator<Item = usize>| {
        for c in contacts {
            let Some(port) = pair.contacts[c].ports[ORIGINAL].filter(|_| pair.contacts[c].compared != Compared::Not)
            else {
                continue;
            };
            let [(d0, l0), (d1, l1)] = [0, 1].map(|k: usize| pair.machines[ORIGINAL].shown(&sides[k], port));
            let apart = ((d0 ^ d1) | (d0 & (l0 ^ l1))) & lanes;
            differs |= apart;
            if apart != 0 {
                at.get_or_insert(c);
            }
        }
    };
    look(&sides, lanes, &mut (0..pair.contacts.len()));
    for _ in 0..LAPS {
        for event in draw.lap(pair) {
            let Some(event) = pair.events.get(event) else { continue };
            let change = draw.flip(pair, &levels[0], &pair.card(ORIGINAL, &sides[0]), event);
            let mut next = levels[0].clone();
            for &(c, word) in &change {
                next[c] = word;
            }
            let twin = other(&next);
            // a run in which the other level is not one that the board has says nothing from there on
            lanes &= pair.may(&mut Lanes::default(), &levels[1], &twin, &pair.card(ORIGINAL, &sides[1]));
            let changes = [
                change,
                (0..twin.len()).filter(|&c| twin[c] != levels[1][c]).map(|c| (c, twin[c])).collect::<Vec<_>>(),
            ];
            levels = [next, twin];
            let mut touched = Vec::new();
            for (k, change) in changes.iter().enumerate() {
                let room = (&mut desks[k], &mut sides[k]);
                let passed = pair.pass(&mut Lanes::default(), ORIGINAL, room, change, pair.ample());
                lanes &= !passed.unsettled;
                touched.extend(pair.touched([&passed.views, &[]]));
            }
            look(&sides, lanes, &mut touched.into_iter());
        }
    }
    let shows = at.and_then(|c| pair.contacts.get(c))?;
    Some((differs.count_ones(), shows.label.clone(), shows.name.clone()))
}

/// Contacts that the replacement never moves, and nearly every start of the original does.
fn still(pair: &Pair, constant: Option<&[(usize, bool)]>) -> Vec<Hidden> {
    let machine = &pair.machines[REPLACEMENT];
    let mut draw = Draw::new(1907);
    let outside: Vec<u64> = machine.ports().iter().map(|_| draw.word()).collect();
    let mut cells: Vec<u64> = machine.cells().iter().map(|_| draw.word()).collect();
    for &(cell, high) in constant.unwrap_or_default() {
        if let Some(word) = cells.get_mut(cell) {
            *word = if high { u64::MAX } else { 0 };
        }
    }
    let point = machine.point(&mut Lanes::default(), &outside, &cells);
    let varies = |word: u64| word != 0 && word != u64::MAX;
    let suspects: Vec<usize> = (0..pair.contacts.len())
        .filter(|&c| {
            let joined = &pair.contacts[c];
            let (drive, level) = joined.ports[REPLACEMENT].map_or((0, 0), |p| machine.shown(&point, p));
            let may_move = constant.is_some() && (varies(drive) || varies(drive & level));
            joined.compared != Compared::Not && joined.ports[ORIGINAL].is_some() && !may_move
        })
        .collect();
    if suspects.is_empty() {
        return Vec::new();
    }
    let moved = [ORIGINAL, REPLACEMENT].map(|side| moves(pair, side));
    let [Some(original), Some(replacement)] = moved else { return Vec::new() };
    let fires = |&c: &usize| replacement[c] == 0 && original[c].count_ones() >= NEARLY_ALL;
    let of = |c: usize| of_contact(pair, c, Why::Still { runs: original[c].count_ones() });
    suspects.into_iter().filter(fires).map(of).collect()
}

/// For each contact, the lanes of drawn runs in which what one side shows there changes.
fn moves(pair: &Pair, side: usize) -> Option<Vec<u64>> {
    let mut draw = Draw::new(1908);
    let mut levels = draw.levels(pair)?;
    let cells: Vec<u64> = pair.starts(side, |v| if v { u64::MAX } else { 0 }, |_| draw.word());
    let mut point = pair.awake(side, &levels, &cells).point;
    let mut desk = Desk::new(&pair.machines[side]);
    let shown = |point: &Point<u64>, c: usize| {
        let (drive, level) = pair.contacts[c].ports[side].map_or((0, 0), |p| pair.machines[side].shown(point, p));
        (drive, drive & level)
    };
    let mut last: Vec<(u64, u64)> = (0..pair.contacts.len()).map(|c| shown(&point, c)).collect();
    let mut moved = vec![0u64; pair.contacts.len()];
    for _ in 0..LAPS {
        for event in draw.lap(pair) {
            let Some(event) = pair.events.get(event) else { continue };
            let change = draw.flip(pair, &levels, &pair.card(side, &point), event);
            for &(c, word) in &change {
                levels[c] = word;
            }
            let passed = pair.pass(&mut Lanes::default(), side, (&mut desk, &mut point), &change, pair.ample());
            for c in pair.touched([&passed.views, &passed.views]) {
                let now = shown(&point, c);
                moved[c] |= ((now.0 ^ last[c].0) | (now.1 ^ last[c].1)) & !passed.unsettled;
                last[c] = now;
            }
        }
    }
    Some(moved)
}

/// Registers of the original that load again and again what their data sheets leave open, in every way in which it could
/// have shown what some run of the replacement shows.
fn open_again(pair: &Arc<Pair>, effort: Effort) -> Option<Hidden> {
    let machine = &pair.machines[ORIGINAL];
    let open: Vec<usize> = (0..machine.cells().len()).filter(|&c| machine.may_load_unknown(c)).collect();
    let &first = open.first()?;
    for seed in 0..RUNS {
        let mut draw = Draw::new(1909 + seed);
        let now: Vec<u64> = draw.levels(pair)?.iter().map(|&w| if w & 1 == 1 { u64::MAX } else { 0 }).collect();
        let levels = now.iter().map(|&w| w & 1 == 1).collect();
        let cells = pair.starts(REPLACEMENT, |v| v, |_| draw.word() & 1 == 1);
        let events = draw.events(pair, &now, &cells, EVENTS);
        let Some(run) = Run::record(pair, levels, cells, events) else { continue };
        if run.needs(|u| matches!(u, Unknown::Load(_)), SELDOM, effort) {
            let name = machine.cells().get(first).map_or(String::new(), |c| c.name.clone());
            let others = open[1..].iter().filter_map(|&c| machine.cells().get(c)).map(|c| c.name.clone()).collect();
            let why = Why::OpenAgain;
            return Some(Hidden { of: Of::Original, call: name.clone(), name, others, why, reaches: Vec::new() });
        }
    }
    None
}
