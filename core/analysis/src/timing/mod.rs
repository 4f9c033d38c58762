//! Static worst-case times at the contacts: of the original from its parts' figures, of the replacement from the device's
//! speed grade, and both side by side.
//!
//! Every time is a sum of the longest delays that data sheets print, over the slowest path, whatever the logic allows to
//! happen at once. Shortest delays are in no sheet: where one would help (a hold time, a change that comes too early) it is
//! taken as nought, and that is said.
//!
//! ```
//! # mod gluewright { pub use gluewright_analysis::*; pub use gluewright_devices::*; pub use gluewright_kernel::*; }
//! use gluewright::board::{Board, Library};
//! use gluewright::timing::{original, Kind};
//!
//! # fn times(card: &str, parts: &dyn Library) -> Result<(), Box<dyn std::error::Error>> {
//! let board = Board::from_csv("card.csv", card, parts)?;
//! for row in original(&board).rows.iter().filter(|row| row.kind == Kind::ClockToOutput) {
//!     println!("{} to {}: {}", row.from.name, row.to.name, row.time);
//! }
//! # Ok(())
//! # }
//! ```
mod arcs;
mod array;
mod arrival;
mod blocks;
mod compare;
mod grades;
mod influence;
mod original;
mod paths;
mod replacement;
mod rounds;
mod spans;
mod text;
mod together;

pub use compare::{Budget, Compared, Comparison, Early, Judgement, compare};
pub use grades::{GradeChoice, Graded, TypeGrade, choose_grade};
pub use original::original;
pub use replacement::replacement;
// public: the report writes rows of contacts as the terminal does
pub use spans::spans;
pub use text::{judged, short};
pub use together::{Seated, choose_grades, together};

use std::fmt;

use serde::Serialize;

use gluewright_kernel::circuit::Label;

/// What a time is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// From a change of one contact to that of another, at most.
    Propagation,
    /// From a clock contact, through a register, to an output contact, at most.
    ClockToOutput,
    /// From a contact to another being driven, at most.
    Enable,
    /// From a contact to another being let go, at most.
    Disable,
    /// How long a contact must be steady before the clock contact changes, at least.
    Setup,
    /// How long it must stay steady afterwards, at least.
    Hold,
    /// From one edge of the clock contact to the next one that registers act on, at least.
    Period,
    /// How long a contact must stay high, at least.
    HighPulse,
    /// How long a contact must stay low, at least.
    LowPulse,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Kind::Propagation => "propagation",
            Kind::ClockToOutput => "clock to output",
            Kind::Enable => "enable",
            Kind::Disable => "disable",
            Kind::Setup => "setup",
            Kind::Hold => "hold",
            Kind::Period => "clock period",
            Kind::HighPulse => "high pulse",
            Kind::LowPulse => "low pulse",
        })
    }
}

/// A contact, as a row names it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct At {
    /// Its label.
    pub label: String,
    /// Its signal.
    pub name: String,
}

impl Ord for At {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        Label::new(&self.label).cmp(&Label::new(&other.label)).then_with(|| self.name.cmp(&other.name))
    }
}

impl PartialOrd for At {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.label == self.name { f.pad(&self.label) } else { f.pad(&format!("{} {}", self.label, self.name)) }
    }
}

/// One stretch of a path.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// What it leads through: `U3 (74LS109) pin 12 to 9`.
    pub through: String,
    /// How long it takes, in ns; nothing if no figure is known.
    pub ns: Option<f64>,
    /// Where the figure comes from, in words.
    pub source: String,
    /// Whether no data sheet confirmed it.
    pub from_memory: bool,
}

/// A time with all that it is made of.
#[derive(Clone, Debug, PartialEq, Default, Serialize)]
pub struct Time {
    /// ns: the sum of what is known.
    pub ns: f64,
    /// The slowest path, in order.
    pub path: Vec<Step>,
    /// What is not known on it or beside it: the true time may be longer.
    pub missing: Vec<String>,
}

impl Time {
    /// Whether every figure that it needs is known.
    pub fn is_complete(&self) -> bool {
        self.missing.is_empty()
    }
}

impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ns = (self.ns * 10.0).round() / 10.0;
        f.pad(&if self.is_complete() { format!("{ns} ns") } else { format!("{ns} ns and more") })
    }
}

/// One time at the contacts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// What it is.
    pub kind: Kind,
    /// The contact that changes, or must be steady.
    pub from: At,
    /// The contact that follows, or the clock; for a pulse the same as `from`.
    pub to: At,
    /// The time.
    pub time: Time,
}

/// All times at the contacts of one side.
#[derive(Clone, Debug, PartialEq, Default, Serialize)]
pub struct Timing {
    /// Whose: the board's name, or device and grade.
    pub of: String,
    /// The times, by kind and contacts.
    pub rows: Vec<Row>,
    /// Times that hold only where the other side has one of the same kind and contacts: a latch of product terms has no
    /// clock of its own that could be told from its data.
    pub on_demand: Vec<Row>,
    /// What a reader must know about the sums.
    pub notes: Vec<String>,
    /// Why there are no times, or none to rely on: then nothing is safe.
    pub gap: Option<String>,
}

impl Timing {
    /// The time of this kind between two contacts.
    pub fn find(&self, kind: Kind, from: &str, to: &str) -> Option<&Row> {
        self.rows.iter().find(|r| r.kind == kind && r.from.label == from && r.to.label == to)
    }

    fn finish(mut self) -> Self {
        self.rows.sort_by(|a, b| (a.kind, &a.from, &a.to).cmp(&(b.kind, &b.from, &b.to)));
        self.notes.dedup();
        self
    }
}

/// Keeps the longest time of each kind between two contacts; what is missing anywhere stays missing.
#[derive(Debug, Default)]
struct Longest {
    rows: Vec<Row>,
}

impl Longest {
    fn take(&mut self, kind: Kind, from: &At, to: &At, time: Time) {
        match self.rows.iter_mut().find(|r| r.kind == kind && &r.from == from && &r.to == to) {
            None => self.rows.push(Row { kind, from: from.clone(), to: to.clone(), time }),
            Some(row) => {
                let mut missing = std::mem::take(&mut row.time.missing);
                if time.ns > row.time.ns {
                    row.time.ns = time.ns;
                    row.time.path = time.path;
                }
                missing.extend(time.missing);
                missing.sort();
                missing.dedup();
                row.time.missing = missing;
            }
        }
    }
}
