//! Netlists in open formats as rows of a trace: what all formats share, and the door to each.
mod classes;
mod edif;
mod ipc;
mod parts_list;

use std::collections::HashMap;
use std::sync::Arc;

use thiserror::Error;

use super::Board;
use super::finding::{Findings, TraceError};
use super::library::Library;
use super::reading::Reading;
use super::sheet::{MOST_ROWS, Row};
use crate::circuit::Origin;

/// Why a netlist can't be read.
#[derive(Clone, Debug, Error)]
#[non_exhaustive]
pub enum NetlistError {
    /// The file is not what its format says.
    #[error("{file}:{line}: {wrong}; {mend}")]
    Form {
        /// The file's name.
        file: String,
        /// The line, counted from 1.
        line: u32,
        /// What is wrong.
        wrong: String,
        /// What to do about it.
        mend: String,
    },
    /// What it describes can't be a board.
    #[error(transparent)]
    Trace(#[from] TraceError),
}

/// A list of parts beside a netlist: reference and type, as CSV.
#[derive(Clone, Copy, Debug)]
pub struct PartsList<'l> {
    /// Its file name, for messages.
    pub file: &'l str,
    /// Its content.
    pub content: &'l [u8],
}

impl Reading {
    /// Reads a netlist in IPC-D-356A: nets by reference and pin. The types of the parts come from a list beside it, CSV
    /// with a column for references (several in one cell are parted by commas or spaces) and one for types.
    ///
    /// A connector, a fuse, a test point stays; what the list calls by a value alone (`4k7`, `100n`) is a resistor, a
    /// capacitor … by the letters of its reference.
    ///
    /// # Errors
    /// If either file has a form that can't be read, or the trace that they make has an error.
    pub fn ipc_d_356a(
        &self,
        file: &str,
        content: impl AsRef<[u8]>,
        parts: PartsList<'_>,
        library: &dyn Library,
    ) -> Result<Board, NetlistError> {
        let types = parts_list::read(parts)?;
        let pins = ipc::read(file, content.as_ref())?;
        self.imported(file, pins, &types, library)
    }

    /// Reads a netlist in EDIF 2.0.0: a flat netlist view. The type of a part is the name of its cell, unless a list of
    /// parts names another; ports of the design are contacts.
    ///
    /// # Errors
    /// If a file has a form that can't be read, or the trace that they make has an error.
    pub fn edif(
        &self,
        file: &str,
        content: impl AsRef<[u8]>,
        parts: Option<PartsList<'_>>,
        library: &dyn Library,
    ) -> Result<Board, NetlistError> {
        let types = parts.map(parts_list::read).transpose()?.unwrap_or_default();
        let pins = edif::read(file, content.as_ref())?;
        self.imported(file, pins, &types, library)
    }

    fn imported(
        &self,
        file: &str,
        pins: Vec<ImportedPin>,
        types: &HashMap<String, String>,
        library: &dyn Library,
    ) -> Result<Board, NetlistError> {
        let mut seen: HashMap<(String, String), String> = HashMap::new();
        let mut rows = Vec::new();
        for pin in pins {
            let key = (pin.reference.to_uppercase(), pin.pin.clone());
            // a pad that is met on both sides of the board is one pin
            if seen.get(&key).is_some_and(|net| *net == pin.net) {
                continue;
            }
            seen.insert(key, pin.net.clone());
            let listed = types.get(&pin.reference.to_uppercase()).cloned().or(pin.part);
            let part = if pin.is_contact {
                "contacts".to_owned()
            } else {
                classes::part(&pin.reference, listed.as_deref(), self, library)
            };
            rows.push(Row { reference: pin.reference, part, pin: pin.pin, net: pin.net, origin: pin.origin });
        }
        Ok(self.board(file, rows, Findings::default(), library)?)
    }
}

/// One pin on one net, as a netlist says.
#[derive(Clone, Debug, PartialEq)]
struct ImportedPin {
    reference: String,
    /// The type, if the netlist knows it.
    part: Option<String>,
    pin: String,
    net: String,
    /// It is where the board meets the outside.
    is_contact: bool,
    origin: Origin,
}

/// The text of a file, or the line that is not in UTF-8.
fn text<'t>(file: &str, content: &'t [u8]) -> Result<&'t str, NetlistError> {
    let text = std::str::from_utf8(content).map_err(|e| {
        let good = content.get(..e.valid_up_to()).unwrap_or_default();
        let line = 1 + good.iter().filter(|&&b| b == b'\n').count();
        form(file, line, "this line holds a character that is not in UTF-8", "save the file as text in ASCII or UTF-8")
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

fn form(file: &str, line: usize, wrong: impl Into<String>, mend: impl Into<String>) -> NetlistError {
    let line = u32::try_from(line).unwrap_or(u32::MAX);
    NetlistError::Form { file: file.into(), line, wrong: wrong.into(), mend: mend.into() }
}

fn at(file: &Arc<str>, line: usize) -> Origin {
    Origin::line(file, u32::try_from(line).unwrap_or(u32::MAX))
}

/// An error if these are more pins than a board may have.
fn too_many(file: &str, line: usize, pins: usize) -> Result<(), NetlistError> {
    if pins < MOST_ROWS {
        return Ok(());
    }
    Err(form(file, line, format!("more than {MOST_ROWS} pins"), "is this the right file?"))
}

#[cfg(test)]
mod tests;
