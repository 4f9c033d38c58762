//! Currents and levels at the contacts: what the original could drive and how it loaded the board, beside the device; what
//! both draw from the supply; and what the original's parts did beside logic.
//!
//! Currents are magnitudes here, in mA: at a low level what flows out of an input and into an output, at a high level the
//! other way. All are worst cases of data sheets.
//!
//! ```
//! # mod gluewright { pub use gluewright_analysis::*; pub use gluewright_devices::*; pub use gluewright_kernel::*; }
//! use gluewright::board::Board;
//! use gluewright::device;
//! use gluewright::fit::Fitted;
//! use gluewright::loading::loading;
//!
//! # fn loads(board: &Board, fitted: &Fitted) {
//! if let Some(device) = device::find("22V10") {
//!     for contact in loading(board, fitted, device, device.grades.first()).contacts {
//!         println!("{}: {}", contact.at, contact.findings.join("; "));
//!     }
//! }
//! # }
//! ```
mod bench;
mod beside;
mod checks;
mod device;
mod original;
mod text;

pub use bench::OnBench;
pub use beside::{Known, loading, loading_together};
pub use checks::{Aspect, Check, Verdict};
// public: the report writes them as a table
pub use text::{alike, alike_checks, row};

use serde::Serialize;

use crate::timing::At;

/// How a side drives a contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Drives {
    /// It doesn't.
    Never,
    /// At all times.
    Always,
    /// At times.
    AtTimes,
    /// It pulls low or lets go.
    LowOnly,
}

/// What one side is to a contact.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Side {
    /// How it drives the contact.
    pub drives: Drives,
    /// What it leaves for the board to sink into it at a low level, in mA; nothing if it doesn't drive or nobody knows.
    pub sinks_ma: Option<f64>,
    /// What it leaves for the board to take from it at a high level, in mA.
    pub sources_ma: Option<f64>,
    /// What the board must sink to hold the contact low, in mA; its pull-up resistors are in it.
    pub load_low_ma: Option<f64>,
    /// What the board must supply to hold the contact high, in mA.
    pub load_high_ma: Option<f64>,
    /// Resistors to rails on the card or the adapter, in words.
    pub pulls: Vec<String>,
    /// What is not known.
    pub missing: Vec<String>,
}

/// A contact with both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContactLoad {
    /// The contact.
    pub at: At,
    /// The original.
    pub original: Side,
    /// The replacement.
    pub replacement: Side,
    /// What a person should look at, in words.
    pub findings: Vec<String>,
    /// Pass or fail, where it is known what is connected to the contact.
    pub checks: Vec<Check>,
}

/// What a side draws from the supply.
#[derive(Clone, Debug, PartialEq, Default, Serialize)]
pub struct SupplyDraw {
    /// At most, in mA, as far as it is known.
    pub ma: f64,
    /// Packages and devices whose current is not known.
    pub missing: Vec<String>,
    /// Packages and devices whose figure nobody looked up in a data sheet.
    pub from_memory: Vec<String>,
    /// Packages and devices whose current is in the sum.
    pub counted: usize,
    /// The speed grades of the devices in the sum, each once.
    pub grades: Vec<String>,
}

impl SupplyDraw {
    /// Adds what one package or device draws, and whether its figure is from memory.
    fn add(&mut self, figure: Option<(f64, bool)>, name: impl FnOnce() -> String) {
        match figure {
            Some((ma, from_memory)) => {
                self.ma += ma.abs();
                self.counted += 1;
                if from_memory {
                    self.from_memory.push(name());
                }
            }
            None => self.missing.push(name()),
        }
    }
}

/// A part of the original that does more than logic.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Beyond {
    /// The part: `U7 (7406)`.
    pub part: String,
    /// What it does beside logic, and what to do about it.
    pub what: String,
    /// The contacts that it drives, if any.
    pub contacts: Vec<At>,
}

/// Currents and levels of both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Loading {
    /// The board.
    pub original: String,
    /// The device, and the parts of whose data sheet the figures are.
    pub replacement: String,
    /// The contacts, in the order of their labels.
    pub contacts: Vec<ContactLoad>,
    /// What the original's packages draw.
    pub supply_before: SupplyDraw,
    /// What the device draws.
    pub supply_after: SupplyDraw,
    /// Whether the board's regulator gives that, if it is known.
    pub supply_check: Option<Check>,
    /// Parts of the original that do more than logic.
    pub beyond: Vec<Beyond>,
    /// What holds for the device as a whole.
    pub notes: Vec<String>,
}

impl Loading {
    /// The contacts at which there is something to look at.
    pub fn to_look_at(&self) -> impl Iterator<Item = &ContactLoad> {
        self.contacts.iter().filter(|c| !c.findings.is_empty() || c.checks.iter().any(|k| k.verdict != Verdict::Pass))
    }

    /// All checks of this outcome, each with its contact; that of the supply has none.
    pub fn checked(&self, verdict: Verdict) -> impl Iterator<Item = (Option<&At>, &Check)> {
        let at_contacts = self.contacts.iter().flat_map(|c| c.checks.iter().map(move |check| (Some(&c.at), check)));
        at_contacts
            .chain(self.supply_check.iter().map(|check| (None, check)))
            .filter(move |(_, c)| c.verdict == verdict)
    }
}

/// Adds up what is known, and remembers what isn't.
#[derive(Debug, Default)]
struct Tally {
    ma: f64,
    known: bool,
    missing: Vec<String>,
}

impl Tally {
    /// Adds a current's magnitude in mA.
    fn add(&mut self, ma: Option<f64>, what: impl FnOnce() -> String) {
        match ma {
            Some(ma) => {
                self.ma += ma.abs();
                self.known = true;
            }
            None => self.missing.push(what()),
        }
    }
}
