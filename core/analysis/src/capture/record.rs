//! A capture in memory: nothing but the changes of the channels that a contact is on.
use super::error::{CaptureError, CaptureErrorKind};

/// What a channel shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sample {
    /// Low.
    Low,
    /// High.
    High,
    /// Driven by nobody; only simulators can tell.
    Floating,
    /// Nothing is known.
    Unknown,
}

impl Sample {
    pub(super) fn read(c: char) -> Option<Sample> {
        match c {
            '0' => Some(Sample::Low),
            '1' => Some(Sample::High),
            'z' | 'Z' => Some(Sample::Floating),
            'x' | 'X' => Some(Sample::Unknown),
            _ => None,
        }
    }

    /// The level, as a TTL input reads it: what floats reads high (common practice, no source).
    pub(super) fn level(self) -> Option<bool> {
        match self {
            Sample::Low => Some(false),
            Sample::High | Sample::Floating => Some(true),
            Sample::Unknown => None,
        }
    }
}

/// One change: when, in picoseconds, of which wire, to what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) time: u64,
    pub(super) wire: u16,
    pub(super) to: Sample,
}

/// More changes than this are no capture: 16 bytes each.
pub(super) const MOST_CHANGES: usize = 1 << 24;

/// The changes of a capture, in the order of time.
#[derive(Clone, Debug, Default)]
pub struct Capture {
    pub(super) file: String,
    pub(super) changes: Vec<Change>,
    /// How many wires it has: contacts with a channel.
    pub(super) wires: usize,
    /// Where it ends, in picoseconds.
    pub(super) end: u64,
    /// The time that the file calls 0.
    pub(super) zero: u64,
    now: Vec<Sample>,
}

impl Capture {
    pub(super) fn new(file: &str, wires: usize) -> Capture {
        Capture {
            file: file.to_owned(),
            changes: Vec::new(),
            wires,
            end: 0,
            zero: 0,
            now: vec![Sample::Unknown; wires],
        }
    }

    /// How many changes it holds.
    pub fn len(&self) -> usize {
        self.changes.len()
    }

    /// Whether nothing ever changes.
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }

    /// A moment in the file's own time, in nanoseconds.
    pub(super) fn nanoseconds(&self, time: u64) -> f64 {
        (i128::from(time) - i128::from(self.zero)) as f64 / 1e3
    }

    pub(super) fn push(&mut self, time: u64, wire: u16, to: Sample, line: u64) -> Result<(), CaptureError> {
        if self.end > time {
            return Err(CaptureError::new(
                &self.file,
                Some(line),
                CaptureErrorKind::Time,
                "time runs backwards here",
                "save the capture anew, sorted by time",
            ));
        }
        self.end = time;
        let Some(now) = self.now.get_mut(usize::from(wire)) else { return Ok(()) };
        if *now == to {
            return Ok(());
        }
        *now = to;
        if self.changes.len() >= MOST_CHANGES {
            return Err(CaptureError::new(
                &self.file,
                Some(line),
                CaptureErrorKind::TooMuch,
                format!("more than {MOST_CHANGES} changes"),
                "capture a shorter stretch of time",
            ));
        }
        self.changes.push(Change { time, wire, to });
        Ok(())
    }
}
