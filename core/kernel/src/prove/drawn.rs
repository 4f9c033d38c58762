//! A drawn search for a run that nothing explains: quick, limited by work, and not for the shortest.
use std::sync::Arc;

use crate::solver::Effort;

use super::candidates::Runs;
use super::draw::Draw;
use super::pair::{Pair, REPLACEMENT};
use super::run::{Explained, Run};

/// Laps over all kinds of events, 64 runs side by side.
const LAPS: usize = 16;

/// The most runs that the solver is asked about: the two differ there, but from another start they might not.
const TRIES: usize = 4;

/// A run that nothing explains, among drawn ones from a pair of states that match as far as is known.
pub(super) fn search(
    pair: &Arc<Pair>,
    levels: &[u64],
    cells: &[Vec<u64>; 2],
    draw: &mut Draw,
    effort: Effort,
) -> Option<Run> {
    let mut runs = Runs::new(pair, levels, cells);
    let mut changes: Vec<Vec<(usize, u64, u64)>> = Vec::new();
    // a run in which the original loads anything says nothing from there on
    let (mut tells, mut tries) = (u64::MAX, 0);
    for _ in 0..LAPS {
        for event in draw.lap(pair) {
            if pair.limit.over().is_some() {
                return None;
            }
            let before = runs.levels.clone();
            let (_, open, differ) = runs.step_and_compare(draw, event);
            let after = before.iter().zip(&runs.levels).enumerate();
            changes.push(after.filter(|(_, (b, a))| b != a).map(|(c, (b, a))| (c, b ^ a, *a)).collect());
            tells &= !open;
            let apart = differ & tells;
            if apart == 0 {
                continue;
            }
            let lane = apart.trailing_zeros();
            let bit = |word: u64| (word >> lane) & 1 == 1;
            let all = |words: &[u64]| words.iter().map(|&w| bit(w)).collect::<Vec<bool>>();
            let events = changes
                .iter()
                .map(|e| e.iter().filter(|&&(_, moved, _)| bit(moved)).map(|&(c, _, to)| (c, bit(to))).collect())
                .filter(|e: &Vec<_>| !e.is_empty())
                .collect();
            let run = Run::record(pair, all(levels), all(&cells[REPLACEMENT]), events)?;
            if matches!(run.explain(effort), Explained::Not) {
                return Some(run);
            }
            tells &= !(1 << lane);
            tries += 1;
            if tries == TRIES {
                return None;
            }
        }
    }
    None
}
