//! Drawn runs, 64 side by side: what breaks soon, and which cases come about.
use crate::machine::Lanes;
use crate::prove::draw::Draw;

use super::unroll::{Run, Subject};

/// Powers-up that are drawn, 64 runs each.
const STARTS: usize = 6;

/// Laps over all kinds of events after each.
const LAPS: usize = 16;

/// No more events than this in one run.
const LONGEST: usize = 400;

/// What drawn runs came to: the shortest that breaks the property, and one for each case.
#[derive(Clone, Debug, Default)]
pub(super) struct Drawn {
    pub(super) broken: Option<Run>,
    pub(super) cases: Vec<Option<Run>>,
}

/// Runs the card, drawn.
pub(super) fn drawn(of: &Subject<'_>, cases: usize) -> Drawn {
    let (pair, side) = (of.pair, of.side);
    let mut draw = Draw::new(1971);
    let mut all = Drawn { broken: None, cases: vec![None; cases] };
    for _ in 0..STARTS {
        let Some(first) = draw.levels(pair) else { return all };
        let cells: Vec<u64> = pair.starts(side, |v| if v { u64::MAX } else { 0 }, |_| draw.word());
        let woken = pair.awake(side, &first, &cells);
        let mut alive = !woken.unsettled;
        let mut lanes = Lanes::default();
        let machine = &pair.machines[side];
        let mut point = woken.point;
        let mut seen = of.monitor.read(machine, &point);
        let nothing = of.monitor.nothing(&mut lanes);
        let mut told = of.monitor.tell(&mut lanes, &nothing, None, &seen);
        let mut levels = first.clone();
        let mut changes: Vec<Vec<(usize, u64, u64)>> = Vec::new();
        let order: Vec<usize> = (0..LAPS).flat_map(|_| draw.lap(pair)).take(LONGEST).collect();
        let mut order = order.into_iter();
        loop {
            let run = |lane: u32, changes: &[Vec<(usize, u64, u64)>]| {
                let bit = |w: u64| (w >> lane) & 1 == 1;
                let events = changes
                    .iter()
                    .map(|e| e.iter().filter(|&&(_, moved, _)| bit(moved)).map(|&(c, _, to)| (c, bit(to))).collect());
                Run {
                    levels: first.iter().map(|&w| bit(w)).collect(),
                    cells: cells.iter().map(|&w| bit(w)).collect(),
                    events: events.filter(|e: &Vec<_>| !e.is_empty()).collect(),
                }
            };
            let shorter = |kept: &mut Option<Run>, new: Run| {
                if kept.as_ref().is_none_or(|k| new.events.len() < k.events.len()) {
                    *kept = Some(new);
                }
            };
            let broken = told.broken & alive;
            // a run in a lane that did nothing lately may be much shorter: the first will do
            if broken != 0 {
                shorter(&mut all.broken, run(broken.trailing_zeros(), &changes));
            }
            for (kept, &case) in all.cases.iter_mut().zip(&told.cases) {
                if kept.is_none() && case & alive != 0 {
                    shorter(kept, run((case & alive).trailing_zeros(), &changes));
                }
            }
            let Some(event) = order.next().and_then(|e| pair.events.get(e)) else { break };
            if alive == 0 || (broken != 0 && !of.monitor.is_reachable()) || pair.limit.over().is_some() {
                break;
            }
            let change = draw.flip(pair, &levels, &pair.card(side, &point), event);
            changes.push(change.iter().map(|&(c, to)| (c, levels[c] ^ to, to)).collect());
            let mut lanes = Lanes::default();
            let stepped = pair.step(&mut lanes, side, &point, &change, pair.ample());
            for &(c, to) in &change {
                levels[c] = to;
            }
            alive &= !stepped.unsettled;
            // an edge in a lane that stood still is none: its levels did not move
            let now = of.monitor.read(machine, &stepped.point);
            told = of.monitor.tell(&mut lanes, &told.marks, Some(&seen), &now);
            (point, seen) = (stepped.point, now);
        }
    }
    all
}
