//! The search for the single faults that explain a capture: on a few windows of it first, then on all of it, and not at
//! all where a proof says that another fault which explains it does nothing else.
use std::time::{Duration, Instant};

use gluewright_kernel::board::Board;
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::limit::Limit;
use gluewright_kernel::machine::Machine;
use gluewright_kernel::prove::Question;
use gluewright_kernel::solver::Effort;
use gluewright_kernel::threads::side_by_side;

use super::fault::{self, Faulty};
use super::moments::{Moment, Moments};
use super::track::{Explains, Track, Verdict};
use super::{Fault, Faults, Observed};

/// Faults that explain a capture; more are not looked for.
pub(super) const MOST_FAULTS: usize = 24;
/// Moments before and after the first unexplained one on which faults are tried first.
const WINDOW: usize = 100;
/// Further windows of that length, spread over the capture.
const WINDOWS: u64 = 8;
/// Faults that go through the windows side by side.
const BATCH: usize = 64;

impl Observed {
    /// Searches the single faults of the original that explain all of the capture: pins and contacts that are stuck or
    /// float, contacts that are shorted, and slips of the trace. `within` bounds the time.
    pub fn faults(&self, board: Option<&Board>, within: Duration) -> Faults {
        self.faults_told(board, within, |_| ())
    }

    /// The same; `progress` is told how many have been tried.
    pub fn faults_told(&self, board: Option<&Board>, within: Duration, progress: impl FnMut(usize)) -> Faults {
        let began = Instant::now();
        let all_captured = self.original.contacts().iter().all(|c| self.has_channel(&c.label));
        let without_delays = self.in_time.as_ref().is_some_and(Machine::follows_delays);
        let mut all = Faults { all_captured, without_delays, ..Faults::default() };
        self.search(board, Limit::within(within).and(self.limit), &mut all, progress);
        all.time = began.elapsed();
        all
    }

    fn search(&self, board: Option<&Board>, limit: Limit, all: &mut Faults, mut progress: impl FnMut(usize)) {
        let windows = self.windows(limit);
        let fits = |circuit: &Circuit| {
            let track = || Track::new(circuit, &self.wired).within(limit);
            if !track().missing().is_empty() {
                return Explains::No;
            }
            let on = |moments: &[Moment]| track().explains(moments.iter().cloned().map(Ok));
            windows.iter().map(|w| on(w)).find(|e| *e != Explains::Yes).unwrap_or(Explains::Yes)
        };
        let mut explaining: Vec<Circuit> = Vec::new();
        let mut candidates = fault::faults(&self.original).chain(fault::slips(&self.original, board));
        loop {
            let batch: Vec<Faulty> = candidates.by_ref().take(BATCH).collect();
            if batch.is_empty() {
                return;
            }
            let answers = side_by_side(&batch, |f| fits(&f.circuit));
            for (Faulty { words, origin, circuit }, on_windows) in batch.into_iter().zip(answers) {
                let answer = match on_windows {
                    Explains::Yes if explaining.iter().any(|known| does_all_of(&circuit, known, limit)) => {
                        Explains::Yes
                    }
                    Explains::Yes => self.whole(&circuit, limit),
                    other => other,
                };
                match answer {
                    Explains::Yes => {
                        all.found.push(Fault { words, origin });
                        explaining.push(circuit);
                    }
                    Explains::No => {}
                    Explains::Open => all.open += 1,
                    Explains::Late => {
                        all.cut_short = true;
                        return;
                    }
                }
                all.tried += 1;
                if all.found.len() >= MOST_FAULTS {
                    return;
                }
            }
            progress(all.tried);
        }
    }

    fn whole(&self, circuit: &Circuit, limit: Limit) -> Explains {
        let track = Track::new(circuit, &self.wired).within(limit);
        let reads = track.reads();
        track.explains(Moments::new(&self.capture, &reads, self.skew))
    }

    /// Stretches of the capture on which most faults fail already, from whatever start: the closest to the first moment
    /// that nothing explains, more around it, and some from all over the capture.
    fn windows(&self, limit: Limit) -> Vec<Vec<Moment>> {
        let mut track = self.of_original().within(limit);
        let reads = track.reads();
        let mut recent: Vec<Moment> = Vec::new();
        let mut failed = None;
        let mut all: Vec<Vec<Moment>> = Vec::new();
        let stride = (self.capture.end / WINDOWS).max(1);
        let mut next = stride;
        let mut open: Vec<Moment> = Vec::new();
        for (k, moment) in Moments::new(&self.capture, &reads, self.skew).enumerate() {
            let Ok(moment) = moment else { break };
            if limit.over().is_some() {
                break;
            }
            if failed.is_none_or(|at| recent.len() <= at + WINDOW) {
                if failed.is_none() {
                    if recent.len() >= 2 * WINDOW {
                        recent.drain(..WINDOW);
                    }
                    let verdict = if k == 0 { track.begin(&moment) } else { track.step(&moment) };
                    failed = (!matches!(verdict, Verdict::Explained)).then_some(recent.len());
                }
                recent.push(moment.clone());
            }
            if moment.time >= next {
                open.push(moment);
                if open.len() >= WINDOW {
                    all.push(std::mem::take(&mut open));
                    while next <= all.last().and_then(|w| w.last()).map_or(0, |m| m.time) {
                        next += stride;
                    }
                }
            }
        }
        let near = failed.unwrap_or(recent.len());
        let close = recent.get(near.saturating_sub(6)..recent.len().min(near + 2)).unwrap_or_default().to_vec();
        all.insert(0, recent);
        all.insert(0, close);
        all
    }
}

/// Whether a proof says that one circuit can do at its contacts whatever another does: then it explains what that explains.
fn does_all_of(circuit: &Circuit, other: &Circuit, limit: Limit) -> bool {
    let effort = Effort { steps: 200_000, limit, ..Effort::default() };
    let question = Question::new(circuit.clone(), other.clone()).settled_only().to_depth(0).walking(0).within(effort);
    question.ask().is_ok()
}
