//! Random zero-delay runs, 64 at a time, towards a state the solver asked for; each run found is repeated with delays.
use super::ask::Questions;
use gluewright_kernel::machine::{Lanes, Limits, Unknown};

/// Batches of 64 runs; changes per run.
const LAPS: usize = 64;
const CHANGES: usize = 48;

/// The most runs that are kept for each goal.
const MOST_RUNS: usize = 4;

/// How a board stands: levels of contacts, and bits of parts by chip and name.
#[derive(Clone, Debug, Default)]
pub(super) struct Standing {
    pub(super) levels: Vec<(String, bool)>,
    pub(super) bits: Vec<((usize, String), bool)>,
}

/// Bits that parts must hold, by chip and name.
pub(super) type Goal = Vec<((usize, String), bool)>;

impl Questions {
    /// Runs from a state to each of these goals: what changes in them, by contact. `draw` says what changes next in a run, and
    /// whether the run begins.
    pub(super) fn find_state(
        &self,
        from: &Standing,
        goals: &[Goal],
        mut draw: impl FnMut(u32, bool) -> Option<String>,
    ) -> Vec<Vec<Vec<String>>> {
        let word = |high: bool| if high { u64::MAX } else { 0 };
        let ports = self.machine.ports();
        let port = |label: &str| ports.iter().position(|p| p.label.as_str() == label);
        let mut outside = vec![0; ports.len()];
        for (label, high) in &from.levels {
            port(label).and_then(|p| outside.get_mut(p)).into_iter().for_each(|level| *level = word(*high));
        }
        let cell = |bit: &(usize, String)| self.cells.iter().position(|own| own.as_ref() == Some(bit));
        let mut cells = vec![0; self.cells.len()];
        for (bit, high) in &from.bits {
            cell(bit).and_then(|at| cells.get_mut(at)).into_iter().for_each(|level| *level = word(*high));
        }
        let of = |goal: &Goal| goal.iter().filter_map(|(bit, high)| Some((cell(bit)?, word(*high)))).collect();
        let wanted: Vec<Vec<(usize, u64)>> = goals.iter().map(of).collect();
        let limits = Limits::ample(&self.machine);
        let start = self.machine.power_up(&mut Lanes::default(), &outside, &cells, limits).point;
        let mut found: Vec<Vec<Vec<String>>> = vec![Vec::new(); goals.len()];
        for _ in 0..LAPS {
            let (mut point, mut alive) = (start.clone(), u64::MAX);
            let mut runs: Vec<Vec<String>> = vec![Vec::new(); 64];
            for change in 0..CHANGES {
                if found.iter().all(|runs| runs.len() >= MOST_RUNS) {
                    return found;
                }
                let held = self.machine.held(&point);
                for (wanted, found) in wanted.iter().zip(&mut found).filter(|(_, found)| found.len() < MOST_RUNS) {
                    let differs = |&(at, high): &(usize, u64)| held.get(at).copied().unwrap_or(0) ^ high;
                    let lanes = alive & !wanted.iter().map(differs).fold(0, |all, lanes| all | lanes);
                    if lanes != 0 {
                        found.extend(runs.get(lanes.trailing_zeros() as usize).cloned());
                    }
                }
                let mut moved: Vec<(usize, u64)> = Vec::new();
                for (lane, run) in (0u32..).zip(&mut runs) {
                    let Some(label) = draw(lane, change == 0) else { continue };
                    let Some(at) = port(&label) else { continue };
                    match moved.iter_mut().find(|(p, _)| *p == at) {
                        Some((_, lanes)) => *lanes |= 1 << lane,
                        None => moved.push((at, 1 << lane)),
                    }
                    run.push(label);
                }
                let levels = self.machine.outside(&point);
                let moved: Vec<(usize, u64)> =
                    moved.into_iter().map(|(p, lanes)| (p, levels.get(p).copied().unwrap_or(0) ^ lanes)).collect();
                let mut lanes = Lanes::default();
                point = self.machine.step(&mut lanes, &point, &moved, limits).point;
                let open = lanes.met.iter().filter(|(site, _)| !matches!(site, Unknown::Floating(_)));
                alive &= !open.fold(0, |all, (_, when)| all | when);
            }
        }
        found
    }
}
