//! A trace written in Rust instead of in a sheet: the same rows, the same checks.
use super::finding::{Findings, TraceError};
use super::library::Library;
use super::reading::Reading;
use super::sheet::Row;
use super::{Board, assemble};
use crate::circuit::{Label, Origin};

/// Collects the rows of a trace; [`finish`](BoardBuilder::finish) makes the [`Board`].
///
/// Parts, pins and nets are the words that [`Board`] lists for a sheet. A finding names the line of the call.
#[derive(Clone, Debug)]
#[must_use]
pub struct BoardBuilder {
    name: String,
    rows: Vec<Row>,
}

impl BoardBuilder {
    pub(super) fn new(name: String) -> Self {
        BoardBuilder { name, rows: Vec::new() }
    }

    /// The contacts of the socket or connector with this reference, each with its net.
    #[track_caller]
    pub fn contacts<L: Into<Label>, N: Into<String>>(
        self,
        reference: &str,
        contacts: impl IntoIterator<Item = (L, N)>,
    ) -> Self {
        self.rows(reference, "contacts", contacts)
    }

    /// A package by its type number, each pin with its net.
    #[track_caller]
    pub fn chip<L: Into<Label>, N: Into<String>>(
        self,
        reference: &str,
        type_number: &str,
        pins: impl IntoIterator<Item = (L, N)>,
    ) -> Self {
        self.rows(reference, type_number, pins)
    }

    /// A part that is no package of logic, in the words of the sheet: `resistor 4k7`, `jumper`, `capacitor 100n`.
    #[track_caller]
    pub fn passive<L: Into<Label>, N: Into<String>>(
        self,
        reference: &str,
        part: &str,
        pins: impl IntoIterator<Item = (L, N)>,
    ) -> Self {
        self.rows(reference, part, pins)
    }

    /// Marks a net as not traced to its end.
    #[track_caller]
    pub fn untraced_net(mut self, net: impl Into<String>) -> Self {
        let row = Row {
            reference: String::new(),
            part: "untraced".into(),
            pin: String::new(),
            net: net.into(),
            origin: Origin::here(),
        };
        self.rows.push(row);
        self
    }

    /// Checks the trace against the library's parts.
    ///
    /// # Errors
    /// As [`Board::from_csv`].
    pub fn finish(self, library: &dyn Library) -> Result<Board, TraceError> {
        self.finish_as(&Reading::new(), library)
    }

    /// The same, read as `reading` says.
    ///
    /// # Errors
    /// As [`Board::from_csv`].
    pub fn finish_as(self, reading: &Reading, library: &dyn Library) -> Result<Board, TraceError> {
        let name = self.name.clone();
        Ok(assemble::board(name, self.name, self.rows, library, reading, Findings::default())?.knowing(library))
    }

    #[track_caller]
    fn rows<L: Into<Label>, N: Into<String>>(
        mut self,
        reference: &str,
        part: &str,
        pins: impl IntoIterator<Item = (L, N)>,
    ) -> Self {
        let origin = Origin::here();
        self.rows.extend(pins.into_iter().map(|(pin, net)| Row {
            reference: reference.trim().to_owned(),
            part: part.trim().to_owned(),
            pin: pin.into().as_str().to_owned(),
            net: net.into().trim().to_owned(),
            origin: origin.clone(),
        }));
        self
    }
}
