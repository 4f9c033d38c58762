//! The board around the card, as somebody knows it: what is connected to each contact, and how its signals are timed.
//! Values and their file; what follows from them is judged where loads and times are.
//!
//! ```
//! # mod gluewright { pub use gluewright_analysis::*; pub use gluewright_kernel::*; }
//! use gluewright::board::{Board, Library};
//! use gluewright::host::Host;
//!
//! # fn known(card: &str, parts: &dyn Library) -> Result<(), Box<dyn std::error::Error>> {
//! let board = Board::from_csv("card.csv", card, parts)?;
//! let host = Host::from_csv(
//!     "host.csv",
//!     "contact,what,value,part,edge,known_from\n\
//!      17,pin,2,74LS245,,\"main board, U14\"\n\
//!      17,waits,180,,3 falls,processor manual p.12\n",
//!     &board,
//! )?;
//! assert_eq!(host.hung().len() + host.times().len(), 2);
//! # Ok(())
//! # }
//! ```
mod error;
mod read;

pub use error::{HostError, Problem, ProblemKind};

use std::path::Path;
use std::sync::Arc;

use serde::Serialize;

use crate::timing::{At, Edge, Kind};
use gluewright_kernel::board::{Board, Part, PinRole};
use gluewright_kernel::circuit::{Label, Origin, Stage};

/// What is known of the board around the card.
#[derive(Clone, Debug, Default)]
pub struct Host {
    pub(super) file: String,
    pub(super) hung: Vec<Hung>,
    pub(super) times: Vec<HostTime>,
    pub(super) supply: HostSupply,
}

/// Something that is connected to a contact.
#[derive(Clone, Debug)]
pub struct Hung {
    /// The contact.
    pub at: At,
    /// What it is.
    pub what: Hangs,
    /// Where that is known from.
    pub known_from: Arc<str>,
    /// Its row.
    pub origin: Origin,
}

/// What is connected to a contact.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Hangs {
    /// A pin of a part.
    Pin {
        /// The part.
        part: Box<Part>,
        /// The pin.
        pin: Label,
        /// What the pin does.
        role: PinRole,
    },
    /// A load at a low level, in mA.
    LoadLow(f64),
    /// A load at a high level, in mA.
    LoadHigh(f64),
    /// A capacitance, wires included, in pF.
    Capacitance(f64),
    /// A resistor to the supply, in Ω.
    PullUp(f64),
    /// A resistor to ground, in Ω.
    PullDown(f64),
    /// An output of which no more is known than how it drives.
    Driver(Stage),
}

/// A time that the board gives or bears.
#[derive(Clone, Debug, PartialEq)]
pub struct HostTime {
    /// What it is.
    pub what: Timed,
    /// The contact.
    pub at: At,
    /// Its change, if one is meant.
    pub change: Option<Edge>,
    /// The contact to whose change it stands in relation.
    pub to: Option<At>,
    /// That change, if one is meant.
    pub its_change: Option<Edge>,
    /// ns.
    pub ns: f64,
    /// Where it is known from.
    pub known_from: Arc<str>,
    /// Its row.
    pub origin: Origin,
}

/// What a time of the board is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Timed {
    /// A contact has been steady for so long before the edge.
    StableBefore,
    /// It stays steady for so long after the edge.
    StableAfter,
    /// The board looks at the contact so long after the edge, or lets so long pass before it drives there itself.
    Waits,
    /// What the board clocks from the contact with the edge needs it steady for so long after it.
    NeedsAfter,
    /// From one active edge of the contact to the next.
    Period,
    /// It stays high for so long.
    High,
    /// It stays low for so long.
    Low,
}

impl Timed {
    /// All of them.
    pub const ALL: [Timed; 7] = [
        Timed::StableBefore,
        Timed::StableAfter,
        Timed::Waits,
        Timed::NeedsAfter,
        Timed::Period,
        Timed::High,
        Timed::Low,
    ];

    /// What the file calls it.
    pub fn word(self) -> &'static str {
        match self {
            Timed::StableBefore => "stable_before",
            Timed::StableAfter => "stable_after",
            Timed::Waits => "waits",
            Timed::NeedsAfter => "needs_after",
            Timed::Period => "period",
            Timed::High => "high",
            Timed::Low => "low",
        }
    }

    /// The times of a card for which it speaks; none for what an output needs.
    pub fn kinds(self) -> &'static [Kind] {
        match self {
            Timed::StableBefore => &[Kind::Setup, Kind::Recovery],
            Timed::StableAfter => &[Kind::Hold],
            Timed::Waits => &[Kind::Propagation, Kind::ClockToOutput, Kind::Enable, Kind::Disable],
            Timed::NeedsAfter => &[],
            Timed::Period => &[Kind::Period],
            Timed::High => &[Kind::HighPulse],
            Timed::Low => &[Kind::LowPulse],
        }
    }

    /// The word in which the board says a time of this kind.
    pub fn of(kind: Kind) -> Timed {
        Timed::ALL.into_iter().find(|timed| timed.kinds().contains(&kind)).unwrap_or(Timed::Waits)
    }

    /// Whether it stands in relation to a change of another contact.
    pub fn has_edge(self) -> bool {
        matches!(self, Timed::StableBefore | Timed::StableAfter | Timed::Waits | Timed::NeedsAfter)
    }
}

/// What is known of the board's supply, in mA.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HostSupply {
    /// What its regulator gives, and where that is known from.
    pub regulator: Option<(f64, Arc<str>)>,
    /// What everything but the card draws, and where that is known from.
    pub others: Option<(f64, Arc<str>)>,
}

impl Host {
    /// Reads a file's content. `file` is its name, for messages; contacts are those of the board, and so are types of parts
    /// unless its library [lasts](gluewright_kernel::board::Library::lasting). At most 10 000 rows.
    ///
    /// # Errors
    /// Everything that is wrong with it, each with its row and the mend.
    pub fn from_csv(file: &str, content: impl AsRef<[u8]>, board: &Board) -> Result<Host, HostError> {
        read::read(file, content.as_ref(), board)
    }

    /// Reads a file.
    ///
    /// # Errors
    /// If it can't be read, or as in [`from_csv`](Host::from_csv).
    pub fn from_file(path: impl AsRef<Path>, board: &Board) -> Result<Host, HostError> {
        let file = path.as_ref().display().to_string();
        match std::fs::read(path.as_ref()) {
            Ok(bytes) => Host::from_csv(&file, bytes, board),
            Err(error) => Err(HostError::Unreadable { file, error }),
        }
    }

    /// The file that it was read from.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// What is connected to contacts, in the order of the file.
    pub fn hung(&self) -> &[Hung] {
        &self.hung
    }

    /// The times, in the order of the file.
    pub fn times(&self) -> &[HostTime] {
        &self.times
    }

    /// The supply.
    pub fn supply(&self) -> &HostSupply {
        &self.supply
    }
}
