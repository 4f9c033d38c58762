//! The traced original: chips and contacts as read from a sister board, checked, and joined into one circuit.
mod again;
mod alter;
mod assemble;
mod builder;
mod check;
mod compose;
mod contacts;
mod cut;
mod finding;
mod import;
mod join;
mod keep;
mod library;
mod misspelt;
mod neighbours;
mod netlist;
mod nets;
mod package;
mod reach;
mod reading;
mod reset;
mod series;
mod sheet;
mod suspicion;
#[cfg(test)]
mod tests;
mod value;
mod vocabulary;
pub mod written;

// public: captures and mends try single changes of a trace
pub use alter::Alteration;
pub use builder::BoardBuilder;
pub use contacts::compare_contacts;
pub use finding::{Finding, FindingKind, Severity, Subject, TraceError};
pub use import::{NetlistError, PartsList};
pub use keep::{Joint, KeepError, Remainder};
pub use library::{Behaviour, Library, Part, PinRole};
pub use reach::Reach;
// public: times and loads follow what is soldered where
pub use netlist::{Chip, Net, Netlist};
pub use reading::{ListError, Reading};
// public: resistors beside the card are written as those on it
pub use value::ohms;

use std::sync::Arc;

use crate::circuit::{Circuit, Origin};
use crate::nearest::{mistyped, nearest};
use neighbours::Neighbours;
use nets::Nets;
use package::Package;

#[doc = include_str!("words.md")]
#[derive(Clone, Debug)]
pub struct Board {
    name: String,
    trace: String,
    /// The file that it was read from, as it was.
    text: Option<Arc<[u8]>>,
    packages: Vec<Package>,
    /// Nets that a row marks as not traced to their ends.
    untraced_nets: Vec<(String, Origin)>,
    nets: Nets,
    findings: Vec<Finding>,
    neighbours: Neighbours,
    lasting: library::Lasting,
    reading: Reading,
}

/// Something on a card that nobody has traced to its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Untraced {
    /// The net of [`Board::circuit`] whose level can't be known; nothing if it touches no net that the trace names.
    pub net: Option<String>,
    /// Why.
    pub why: String,
    /// The row that says so.
    pub origin: Origin,
}

impl Board {
    /// Reads a trace from a CSV file's content. `file` is its name, for messages; the board's name is the same without
    /// folder and ending.
    ///
    /// The file has the columns `ref`, `part`, `pin` and `net` in any order, and others beside them. Commas, semicolons
    /// or tabs part the columns; quotation marks, spaces around words, all line ends and a byte-order mark are fine. A
    /// line that starts with `#` is a comment. A trace has at most 100 000 rows and 10 000 references.
    ///
    /// # Errors
    /// If the trace has an error; everything that was found in it comes along, each finding with its row and its mend.
    pub fn from_csv(file: &str, content: impl AsRef<[u8]>, library: &dyn Library) -> Result<Board, TraceError> {
        Reading::new().csv(file, content, library)
    }

    /// Starts a trace in Rust.
    pub fn builder(name: impl Into<String>) -> BoardBuilder {
        BoardBuilder::new(name.into())
    }

    /// With the types of this library that could stand in the place of its own.
    fn knowing(mut self, library: &dyn Library) -> Board {
        self.neighbours = Neighbours::of(&self.packages, library);
        self.lasting = library::Lasting::of(library);
        self
    }

    /// The trace as a sheet: the file that it was read from, byte for byte; of one that was written in Rust, its rows.
    pub fn sheet(&self) -> Vec<u8> {
        if let Some(text) = &self.text {
            return text.to_vec();
        }
        let mut writer = csv::Writer::from_writer(Vec::new());
        // writing into memory does not fail
        let _ = writer.write_record(["ref", "part", "pin", "net"]);
        for row in self.rows() {
            let _ = writer.write_record([&row.reference, &row.part, &row.pin, &row.net]);
        }
        writer.into_inner().unwrap_or_default()
    }

    /// The name, for files and messages.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Warnings and notes, row by row. What a proof will refuse is a warning here and an error of
    /// [`circuit`](Board::circuit).
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The packages of known types: reference and part, in the order of the trace.
    pub fn chips(&self) -> impl Iterator<Item = (&str, &Part)> {
        self.packages.iter().filter_map(|p| Some((p.reference.as_str(), p.chip()?.as_ref())))
    }

    /// A type that is on the card, or that the library has with which it was read, if that [lasts](Library::lasting).
    ///
    /// # Errors
    /// The type numbers for which it may be a slip, if there is no such type.
    pub fn part(&self, type_number: &str) -> Result<Part, Vec<String>> {
        let own = self.packages.iter().filter_map(Package::chip).find(|p| p.name().eq_ignore_ascii_case(type_number));
        if let Some(part) = own.map(|part| part.as_ref().clone()).or_else(|| self.lasting.part(type_number)) {
            return Ok(part);
        }
        let own = self.packages.iter().filter_map(Package::chip).map(|part| part.name().to_owned());
        let names: Vec<String> = own.chain(self.lasting.names()).collect();
        let near = nearest(type_number, names.iter().map(String::as_str), mistyped(type_number));
        Err(near.into_iter().map(str::to_owned).collect())
    }

    /// The whole card as one circuit: a net for each net of the trace, contacts with their labels, supplies declared.
    ///
    /// Contacts carry [`Data`](crate::circuit::Polarity::Data); their direction comes from what is on their net. A pin
    /// that is open, not yet traced or left out is on a net of its own, named after it: `U3 pin 9`. Drivers, registers
    /// and latches have their rows as origin. What [`untraced`](Board::untraced) names is in the circuit, but means nothing.
    ///
    /// # Errors
    /// If the card holds parts that settled logic can't stand for: each is named, with what to do instead.
    pub fn circuit(&self) -> Result<Circuit, TraceError> {
        let refused = check::refusals(self).into_iter().filter(|f| f.kind == FindingKind::NotLogic);
        let findings: Vec<Finding> = refused.map(|f| Finding { severity: Severity::Error, ..f }).collect();
        if findings.is_empty() {
            return Ok(compose::compose(self).circuit);
        }
        Err(TraceError { trace: self.trace.clone(), findings })
    }

    /// What nobody has traced to its end: marked nets, the nets of empty positions and of packages of unknown type, pins
    /// marked `untraced`; and, while an output, a contact or an unknown package waits to be traced, every net without a
    /// driver. A proof covers only contacts whose logic touches none of these.
    pub fn untraced(&self) -> Vec<Untraced> {
        let composed = compose::compose(self);
        let named = |id: crate::circuit::NetId| composed.circuit.nets().get(id.index()).map(|net| net.name.clone());
        let mut all = Vec::new();
        for (net, id) in self.nets.all().iter().zip(&composed.nets) {
            if let Some((why, origin)) = &net.untraced {
                all.push(Untraced { net: id.and_then(named), why: why.clone(), origin: origin.clone() });
            }
        }
        for (id, who, origin) in &composed.waiting {
            all.push(Untraced { net: named(*id), why: format!("{who} is not yet traced"), origin: origin.clone() });
        }
        for package in self.packages.iter().filter(|p| p.is_left_out()) {
            let (labels, origin) = package.waiting();
            if let Some(label) = labels.first() {
                let why = format!("{} is not yet traced", package.pin_called(label));
                all.push(Untraced { net: None, why, origin });
            } else if package.others_wait() {
                all.push(Untraced { net: None, why: format!("{} is not yet traced", package.called()), origin });
            }
        }
        all
    }
}
