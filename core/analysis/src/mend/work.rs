//! How much a search for a mend may work.
use std::time::Duration;

use gluewright_kernel::limit::{Limit, Stop};
use gluewright_kernel::solver::Effort;

/// How much a search for a mend may work. What it tries is bounded by work, the same on every machine; after its time it
/// gives up all the same.
///
/// ```
/// # extern crate gluewright_analysis as gluewright;
/// use std::time::Duration;
/// use gluewright::mend::Work;
///
/// let patient = Work::times(10); // ten times the work, and the time for it
/// let hasty = Work::usual().within(Duration::from_secs(2));
/// # let _ = (patient, hasty);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Work {
    times: u32,
    within: Duration,
    stop: Option<Stop>,
}

/// How long the usual work may take.
const WITHIN: Duration = Duration::from_secs(10);
/// Elementary steps of the solver for one question about a change.
const STEPS: u32 = 400_000;
/// Changes at most, of one place, that pass every run and are asked about.
const MOST_ASKED: usize = 48;
/// The most of these that are also decided by a walk where induction is open. A longer search could only refute.
const MOST_WALKED: usize = 4;
/// Runs of one event in such a walk.
const WALK: usize = 1 << 12;

impl Work {
    /// The usual work: ten seconds at most.
    pub fn usual() -> Self {
        Work::times(1)
    }

    /// A multiple of the usual work, and of its time.
    pub fn times(times: u32) -> Self {
        Work { times, within: WITHIN.saturating_mul(times), stop: None }
    }

    /// The same work, but no longer than this.
    #[must_use]
    pub fn within(mut self, time: Duration) -> Self {
        self.within = time;
        self
    }

    /// The same work, until somebody stops it with this token.
    #[must_use]
    pub fn stopped_by(mut self, stop: Stop) -> Self {
        self.stop = Some(stop);
        self
    }

    /// From now on: when this many quarters of the time are over.
    pub(super) fn limit(self, quarters: u32) -> Limit {
        Limit::within(self.within.saturating_mul(quarters) / 4).or_when(self.stop)
    }

    /// How long it may take to see what a slip does wrong that hides behind another.
    pub(super) fn hidden(self) -> Duration {
        self.within / 8
    }

    /// How many times the usual work it is.
    pub(super) fn number(self) -> u32 {
        self.times
    }

    /// As many times this as it is the usual work.
    pub(super) fn most(self, usual: usize) -> usize {
        usual.saturating_mul(self.times as usize)
    }

    pub(super) fn effort(self) -> Effort {
        Effort { steps: STEPS.saturating_mul(self.times), ..Effort::default() }
    }

    pub(super) fn most_asked(self) -> usize {
        self.most(MOST_ASKED)
    }

    pub(super) fn most_walked(self) -> usize {
        self.most(MOST_WALKED)
    }

    pub(super) fn walk(self) -> usize {
        self.most(WALK)
    }
}

/// The usual work, in this time.
impl From<Duration> for Work {
    fn from(time: Duration) -> Self {
        Work::usual().within(time)
    }
}
