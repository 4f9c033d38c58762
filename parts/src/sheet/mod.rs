//! The data sheet of one type: package, pins, figures, and where each of them comes from.
mod check;
mod error;
mod families;
mod figures;
mod file;
mod names;
mod pattern;
mod problem;
mod reach;
mod rows;

use gluewright::board::PinRole;
use gluewright::circuit::{Circuit, Label, Polarity};
use gluewright::figures::OpenInput;

pub use error::{Fault, SheetError};
pub use families::FamilyFigures;
pub(crate) use families::read as read_families;
pub use figures::{
    Change, Delay, Figure, Figures, InputCurrents, Measured, MissingDelay, OutputLimits, Pulse, PulseLevel, Rate,
    Recovery, Source, Span, SupplyCurrent, Threshold, Width, Window,
};
pub use problem::Problem;

use crate::family::Family;

/// What is known about one type beside its logic.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The type number: `74LS138`.
    pub type_number: String,
    /// The later type that was sold under this number, if the figures are those of it: `74LS74A`.
    pub made_as: Option<String>,
    /// What it is, in a line.
    pub title: String,
    /// How many pins the package has.
    pub package: u16,
    /// Whose levels it has.
    pub family: Family,
    /// What else is printed on a package of this type: numbers of other makers.
    pub also: Vec<String>,
    /// What its inputs do that nothing drives.
    pub open_input: OpenInput,
    /// Why no logic that settles can stand for it, if none can.
    pub no_logic: Option<NoLogic>,
    /// How much it holds, if its logic is its contents.
    pub memory: Option<Memory>,
    /// The pins, in the order of their numbers.
    pub pins: Vec<Pin>,
    /// The figures.
    pub figures: Figures,
    /// The data sheets that were seen, each with what was taken from it. None: all of it is from memory.
    pub sheets: Vec<String>,
    /// True if no sheet confirmed the pins.
    pub pins_from_memory: bool,
    /// True if no sheet confirmed the function.
    pub function_from_memory: bool,
    /// Where sheets differ, and what else a reader of the figures should know.
    pub notes: Vec<String>,
    /// Where the sheets don't say how the type behaves, and what its logic does there.
    pub doubts: Vec<String>,
    /// Families whose type of this number is another thing.
    pub not_shared: Vec<NotShared>,
    /// What is doubtful about the type of this number in other families.
    pub family_doubts: Vec<(Vec<Family>, String)>,
}

/// Why no logic that settles can stand for a type.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoLogic {
    /// The length of its pulse comes from a resistor and a capacitor.
    OneShot,
    /// It compares voltages at a capacitor.
    Timer,
    /// Its outputs are its input some time later.
    DelayLine,
    /// It joins and parts its pins.
    Switch,
    /// Its inputs or outputs are lines with levels of their own.
    Line,
    /// Its outputs carry loads, and their low level is none of logic.
    PowerDriver,
}

impl NoLogic {
    /// Why not, in a sentence without its full stop.
    pub fn why(self) -> &'static str {
        match self {
            NoLogic::OneShot => "the length of its pulse comes from a resistor and a capacitor, not from logic",
            NoLogic::Timer => "it compares voltages at a capacitor, and the times come from there, not from logic",
            NoLogic::DelayLine => {
                "its outputs are its input some time later: once settled they are equal, and what is made of two of them would vanish"
            }
            NoLogic::Switch => "it joins its pins and parts them, in no direction: it is no logic",
            NoLogic::Line => "its line pins have voltages beyond those of logic, which would destroy a logic device",
            NoLogic::PowerDriver => {
                "its outputs carry currents and voltages of lamps, relays and motors, and their low level is none of logic"
            }
        }
    }
}

/// How much a memory holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Memory {
    /// How many words.
    pub words: usize,
    /// Bits of a word, eight at most.
    pub bits: u32,
}

/// Families whose type of a number is another thing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotShared {
    /// The families.
    pub families: Vec<Family>,
    /// Why it is another thing.
    pub why: String,
    /// True if its pins are the same for all that.
    pub same_pins: bool,
}

/// One pin of a package.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// Its number.
    pub label: Label,
    /// Its name, as the sheets call it.
    pub name: String,
    /// The name that a sheet prints where it can't be written plainly: `A=B`.
    pub printed: Option<String>,
    /// What it does.
    pub role: PinRole,
    /// What it carries.
    pub polarity: Polarity,
    /// The edge at which it acts, if it is a clock.
    pub edge: Option<Edge>,
    /// The field of the part's logic that stands for it, where it isn't called after the pin.
    field: Option<String>,
}

/// An edge of a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Edge {
    /// From low to high.
    Rising,
    /// From high to low.
    Falling,
}

impl Sheet {
    /// Reads a data file; `file` is its name for messages.
    ///
    /// # Errors
    /// What is wrong with the file, and how to mend it.
    pub fn from_toml(file: &str, text: &str) -> Result<Self, SheetError> {
        file::read(file, text)
    }

    /// What is missing from the sheet, can't be right in it, or doesn't agree with the part's logic. Parts that are no logic have none.
    pub fn problems(&self, logic: Option<&Circuit>) -> Vec<Problem> {
        let mut problems = check::completeness(self);
        if let Some(logic) = logic {
            problems.extend(check::agreement(self, logic));
        }
        problems
    }

    /// The pin with this label.
    pub fn pin(&self, label: &Label) -> Option<&Pin> {
        self.pins.iter().find(|p| &p.label == label)
    }

    /// The pin with this name.
    pub fn pin_named(&self, name: &str) -> Option<&Pin> {
        self.pins.iter().find(|p| p.name == name)
    }

    /// Where a figure of this sheet comes from, in words.
    pub fn source_of(&self, figure: &Figure) -> String {
        match figure.source {
            Source::Memory => "from memory".to_owned(),
            Source::Sheets => self.sheets.join("; "),
        }
    }
}
