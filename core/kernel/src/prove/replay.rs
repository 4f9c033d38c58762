//! A refutation replayed in the simulator against every start of the original.
use std::collections::BTreeMap;

use crate::machine::Lanes;

use super::Refutation;
use super::pair::{ORIGINAL, Seen};
use super::run::Run;

impl Refutation {
    /// Replays the sequence in the simulator against every start of the original. Gives, for power-up and each event,
    /// how many starts still show the same; the last one is 0. `None` if there are more than 2²⁰ starts or an unknown
    /// of the original occurs, so that counting says nothing.
    pub fn replay(&self) -> Option<Vec<u64>> {
        survivors(&self.run)
    }
}

/// The original from all its starts at once, on a concrete run: the starts that show the same to the end of each event.
fn survivors(run: &Run) -> Option<Vec<u64>> {
    let pair = &*run.pair;
    let cells = pair.machines[ORIGINAL].cells();
    let free: BTreeMap<usize, usize> =
        cells.iter().enumerate().filter(|(_, c)| c.start.is_none()).enumerate().map(|(k, (i, _))| (i, k)).collect();
    if free.len() > 20 {
        return None;
    }
    let word = |b: bool| if b { u64::MAX } else { 0 };
    let mut alive = vec![0; run.shown.len()];
    for block in 0..(1u64 << free.len()).div_ceil(64) {
        let count = (1u64 << free.len()).min(64);
        let mut left = if count == 64 { u64::MAX } else { (1 << count) - 1 };
        let start = pair.starts(ORIGINAL, word, |i| {
            let k = free.get(&i).copied().unwrap_or(0);
            (0..64u64).fold(0, |w, lane| w | ((((block * 64 + lane) >> k) & 1) << lane))
        });
        let levels: Vec<u64> = run.levels.iter().map(|&b| word(b)).collect();
        let woken = pair.awake(ORIGINAL, &levels, &start);
        left &= !woken.unsettled;
        let mut point = woken.point;
        for (k, shown) in run.shown.iter().enumerate() {
            let before = point.clone();
            let mut views = Vec::new();
            if k > 0 {
                let change: Vec<_> = run.events[k - 1].iter().map(|&(c, b)| (c, word(b))).collect();
                let mut lanes = Lanes::default();
                let stepped = pair.step(&mut lanes, ORIGINAL, &point, &change, pair.ample());
                if lanes.met.iter().any(|&(_, when)| when & left != 0) {
                    // its behaviour is not determined there, so a count would mean nothing
                    return None;
                }
                left &= !stepped.unsettled;
                point = stepped.point;
                views = stepped.views;
            }
            for (c, wanted) in shown.iter().enumerate() {
                let seen = pair.seen(ORIGINAL, c, &before, &views, 0);
                let pulls_differ = pair.pull_lost(c);
                let alive_before = left;
                for lane in (0..64).filter(|lane| (alive_before >> lane) & 1 == 1) {
                    let bit = |w: u64| (w >> lane) & 1 == 1;
                    let mut mine: Seen<bool> = seen.iter().map(|&(d, l)| (bit(d), bit(d) && bit(l))).collect();
                    mine.dedup();
                    if &mine != wanted || (pulls_differ && mine.iter().any(|s| !s.0)) {
                        left &= !(1 << lane);
                    }
                }
            }
            alive[k] += u64::from(left.count_ones());
        }
    }
    Some(alive)
}
