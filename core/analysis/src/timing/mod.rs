//! Times at the contacts: of the original what its runs show, of the replacement what the device's speed grade never exceeds,
//! and both side by side.
//!
//! The two are not the same. What the original is shown to take, the board must bear; so its time is that of a run in which
//! every part is as slow as its sheet allows, and the run is kept. What the replacement may take is the sum over its slowest
//! path, whatever the logic allows to happen at once. Where a shortest delay would help (what the board holds, a clock that
//! comes early) it is that of the device's sheet, if one gives it, and else nought; of the original it is nought.
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
mod ask;
mod blocks;
mod compare;
mod cyclic_paths;
mod find_state;
mod grades;
mod influence;
mod least;
mod level;
mod look;
mod original;
mod output;
mod paths;
mod replacement;
mod spans;
mod text;
mod timed;
mod together;
mod walk;
mod witness;

pub use compare::{Budget, Compared, Comparison, Early, Given, Judgement, compare};
pub use grades::{GradeChoice, Graded, TypeGrade, choose_grade};
pub use original::original;
pub use replacement::replacement;
// public: the report writes rows of contacts as the terminal does
pub use spans::spans;
pub use text::{change, early_words, judged, short};
pub use together::{Seated, choose_grades, together};
pub use witness::{Held, Put, Run, Witness};

use std::collections::HashMap;
use std::fmt;
use std::hash::{DefaultHasher, Hash, Hasher};

use serde::Serialize;

use gluewright_kernel::circuit::Label;

/// A change of a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Edge {
    /// From low to high.
    Rise,
    /// From high to low.
    Fall,
}

impl Edge {
    /// Both.
    pub const BOTH: [Edge; 2] = [Edge::Rise, Edge::Fall];

    /// To this level.
    pub fn to(high: bool) -> Edge {
        if high { Edge::Rise } else { Edge::Fall }
    }

    /// The other one.
    #[must_use]
    pub fn other(self) -> Edge {
        Edge::to(self == Edge::Fall)
    }

    /// Position in [`Edge::BOTH`].
    pub(crate) fn index(self) -> usize {
        usize::from(self == Edge::Fall)
    }
}

impl fmt::Display for Edge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(if *self == Edge::Rise { "rises" } else { "falls" })
    }
}

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
    /// How long a clear or preset must have ended before the clock contact changes, at least.
    Recovery,
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
            Kind::Recovery => "recovery",
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
    /// Whether anything is known of it.
    pub fn is_known(&self) -> bool {
        self.is_complete() || !self.path.is_empty()
    }

    /// Whether every figure that it needs is known.
    pub fn is_complete(&self) -> bool {
        self.missing.is_empty()
    }
}

impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.is_known() {
            return f.pad("not known");
        }
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
    /// Its change; nothing for a pulse.
    pub from_edge: Option<Edge>,
    /// The contact that follows, or the clock; for a pulse the same as `from`.
    pub to: At,
    /// Its change; nothing for a pulse. A contact that is turned on goes to this level: a rise is to high. One that is
    /// turned off lets this level go: a rise was high.
    pub to_edge: Option<Edge>,
    /// The time.
    pub time: Time,
    /// What it is at least, in ns: of a replacement, where a sheet gives its shortest delays.
    pub least: Option<f64>,
    /// The run that shows it: of an original, unless it is a pulse or not known.
    pub witness: Option<Witness>,
}

/// What a row is about: kind, and label and change of both contacts.
type Key<'r> = (Kind, &'r str, Option<Edge>, &'r str, Option<Edge>);

impl Row {
    /// What it is about.
    fn key(&self) -> Key<'_> {
        (self.kind, &self.from.label, self.from_edge, &self.to.label, self.to_edge)
    }
}

/// All times at the contacts of one side.
#[derive(Clone, Debug, PartialEq, Default, Serialize)]
pub struct Timing {
    /// Whose: the board's name, or device and grade.
    pub of: String,
    /// The times, by kind and contacts.
    pub rows: Vec<Row>,
    /// Runs that show the times of an original.
    pub runs: Vec<Run>,
    /// Times that hold only where the other side has one of the same kind and contacts: a latch of product terms has no
    /// clock of its own that could be told from its data.
    pub on_demand: Vec<Row>,
    /// What a reader must know about the sums.
    pub notes: Vec<String>,
    /// Why there are no times, or none to rely on: then nothing is safe.
    pub gap: Option<String>,
}

impl Timing {
    /// The longest time of this kind between two contacts, over their edges.
    pub fn find(&self, kind: Kind, from: &str, to: &str) -> Option<&Row> {
        let between = self.rows.iter().filter(|r| r.kind == kind && r.from.label == from && r.to.label == to);
        between.max_by(|a, b| a.time.ns.total_cmp(&b.time.ns))
    }

    /// The time of this kind from a change of one contact to one of the other.
    pub fn between(&self, kind: Kind, from: (&str, Edge), to: (&str, Edge)) -> Option<&Row> {
        self.rows.iter().find(|r| r.key() == (kind, from.0, Some(from.1), to.0, Some(to.1)))
    }

    fn finish(mut self) -> Self {
        self.rows.sort_by(|a, b| a.place().cmp(&b.place()));
        self.notes.dedup();
        self
    }
}

impl Row {
    /// Where it stands in a list.
    fn place(&self) -> (Kind, &At, &At, Option<Edge>, Option<Edge>) {
        (self.kind, &self.from, &self.to, self.from_edge, self.to_edge)
    }
}

/// Keeps the longest time of each kind between two changes; what is missing anywhere stays missing.
#[derive(Debug, Default)]
struct Longest {
    rows: Vec<Row>,
    places: HashMap<u64, Vec<usize>>,
}

impl Longest {
    fn take(&mut self, kind: Kind, from: (&At, Option<Edge>), to: (&At, Option<Edge>), time: Time) {
        let key: Key<'_> = (kind, &from.0.label, from.1, &to.0.label, to.1);
        let mut hasher = DefaultHasher::new();
        key.hash(&mut hasher);
        let places = self.places.entry(hasher.finish()).or_default();
        let known = places.iter().copied().find(|&at| self.rows.get(at).is_some_and(|row| row.key() == key));
        match known.and_then(|at| self.rows.get_mut(at)) {
            None => {
                places.push(self.rows.len());
                let (from_edge, to_edge) = (from.1, to.1);
                let (from, to) = (from.0.clone(), to.0.clone());
                self.rows.push(Row { kind, from, from_edge, to, to_edge, time, least: None, witness: None });
            }
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

    /// The same for a pulse.
    fn pulse(&mut self, kind: Kind, at: &At, time: Time) {
        self.take(kind, (at, None), (at, None), time);
    }
}
