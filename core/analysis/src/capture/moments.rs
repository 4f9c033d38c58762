//! From single changes to moments: what the board did, and what the contacts had come to when it was over.
//!
//! Changes of inputs that lie closer together than the skew are one moment, and nobody knows their order. Outputs are
//! looked at when the skew has passed since the last of them; what they do before that, or just before the next moment,
//! may be late or early by as much.
use super::record::{Capture, Change, Sample};

/// One moment of a capture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Moment {
    /// When it began, in picoseconds.
    pub(super) time: u64,
    /// When it was looked at.
    pub(super) looked: u64,
    /// What the board did, in the order of the capture: wire, level.
    pub(super) inputs: Vec<(u16, bool)>,
    /// What each wire shows in the end.
    pub(super) seen: Vec<Sample>,
}

/// More changes of inputs than this at one moment are taken in the order of the capture without waiting.
const MOST_INPUTS: usize = 32;

/// The moments of a capture, one by one.
pub(super) struct Moments<'c> {
    capture: &'c Capture,
    is_input: &'c [bool],
    skew: u64,
    at: usize,
    /// Where the next change of an input stands: at `at` or behind it, once it was looked for.
    next: usize,
    now: Vec<Sample>,
    begun: bool,
}

/// An input whose level is not known: when, and the wire.
pub(super) type Unclear = (u64, u16);

impl<'c> Moments<'c> {
    pub(super) fn new(capture: &'c Capture, is_input: &'c [bool], skew: u64) -> Self {
        Moments { capture, is_input, skew, at: 0, next: 0, now: vec![Sample::Unknown; capture.wires], begun: false }
    }

    fn reads(&self, c: &Change) -> bool {
        self.is_input.get(usize::from(c.wire)).copied().unwrap_or(false)
    }

    fn take(&mut self) -> Option<Change> {
        let c = *self.capture.changes.get(self.at)?;
        self.at += 1;
        if let Some(now) = self.now.get_mut(usize::from(c.wire)) {
            *now = c.to;
        }
        Some(c)
    }

    /// When the next change of an input comes.
    fn next_input(&mut self) -> Option<u64> {
        let from = self.next.max(self.at);
        let ahead = self.capture.changes.get(from..)?.iter().position(|c| self.reads(c));
        self.next = ahead.map_or(self.capture.changes.len(), |k| from + k);
        self.capture.changes.get(self.next).map(|c| c.time)
    }

    /// The first moment: all inputs are known, and nothing has been seen yet.
    fn begin(&mut self) -> Option<Result<Moment, Unclear>> {
        self.begun = true;
        let unknown =
            |m: &Self| (0..m.now.len()).find(|&w| m.is_input.get(w) == Some(&true) && m.now[w].level().is_none());
        while unknown(self).is_some() {
            if self.take().is_none() {
                let wire = unknown(self).and_then(|w| u16::try_from(w).ok()).unwrap_or(0);
                return Some(Err((self.capture.end, wire)));
            }
        }
        let time = self.at.checked_sub(1).and_then(|k| self.capture.changes.get(k)).map_or(0, |c| c.time);
        // what else is written for the same time belongs to the beginning
        while self.capture.changes.get(self.at).is_some_and(|c| c.time == time) {
            self.take();
        }
        let looked = self.wait(time);
        Some(Ok(Moment { time, looked, inputs: Vec::new(), seen: self.now.clone() }))
    }

    /// Takes what outputs do until the skew has passed; gives when that is.
    fn wait(&mut self, since: u64) -> u64 {
        let until = since.saturating_add(self.skew);
        while self.capture.changes.get(self.at).is_some_and(|c| c.time <= until && !self.reads(c)) {
            self.take();
        }
        until
    }

    /// The levels of the inputs.
    pub(super) fn levels(seen: &[Sample]) -> Vec<bool> {
        seen.iter().map(|s| s.level().unwrap_or(false)).collect()
    }
}

impl Iterator for Moments<'_> {
    type Item = Result<Moment, Unclear>;

    fn next(&mut self) -> Option<Self::Item> {
        if !self.begun {
            return self.begin();
        }
        let next_input = self.next_input();
        // what an output does while the board keeps still, and not just before it moves again
        let quiet = |c: &Change| next_input.is_none_or(|n| c.time < n.saturating_sub(self.skew));
        let first = *self.capture.changes.get(self.at)?;
        if !self.reads(&first) && quiet(&first) {
            self.take();
            let looked = self.wait(first.time);
            return Some(Ok(Moment { time: first.time, looked, inputs: Vec::new(), seen: self.now.clone() }));
        }
        let mut inputs = Vec::new();
        let (mut time, mut last) = (None, next_input?);
        while let Some(c) = self.capture.changes.get(self.at).copied() {
            let reads = self.reads(&c);
            let late = c.time > last.saturating_add(self.skew);
            if (late && !inputs.is_empty()) || (reads && inputs.len() >= MOST_INPUTS) {
                break;
            }
            self.take();
            if reads {
                let Some(level) = c.to.level() else { return Some(Err((c.time, c.wire))) };
                time.get_or_insert(c.time);
                last = c.time;
                inputs.push((c.wire, level));
            }
        }
        let looked = last.saturating_add(self.skew);
        Some(Ok(Moment { time: time.unwrap_or(last), looked, inputs, seen: self.now.clone() }))
    }
}
