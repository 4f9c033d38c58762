//! What can be wrong with a list of readings or of parts: where, what, and what would mend it.
use thiserror::Error;

/// Rows that a message shows beside the first.
const SHOWN: usize = 19;

/// Why readings can't be taken up.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}:{line}: {message}; {mend}{}", further(.others))]
#[non_exhaustive]
pub struct ContinuityError {
    /// The file.
    pub file: String,
    /// Its line, counted from 1.
    pub line: u64,
    /// What kind of mistake it is.
    pub kind: ContinuityErrorKind,
    /// What is wrong.
    pub message: String,
    /// What would mend it.
    pub mend: String,
    /// The other rows of the file that can't be read, none of which has others of its own.
    pub others: Vec<ContinuityError>,
}

/// The other rows, each on a line of its own.
fn further(others: &[ContinuityError]) -> String {
    let mut text: String = others.iter().take(SHOWN).map(|other| format!("\n{other}")).collect();
    if others.len() > SHOWN {
        text.push_str(&format!("\nand {} more such rows", others.len() - SHOWN));
    }
    text
}

/// What kind of mistake it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ContinuityErrorKind {
    /// The file is not text in UTF-8, or a row can't be read as CSV.
    Row,
    /// The first row does not name the columns.
    Header,
    /// Something that is no pin, no contact and no name.
    Point,
    /// Something that no meter shows.
    Value,
    /// A part twice, or one that can't be read.
    Part,
    /// More rows than two days hold.
    TooMany,
}

/// Where something is read: the file, and the line.
#[derive(Clone, Copy)]
pub(super) struct At<'f> {
    pub(super) file: &'f str,
    pub(super) line: u64,
}

impl At<'_> {
    pub(super) fn wrong(
        self,
        kind: ContinuityErrorKind,
        message: impl Into<String>,
        mend: impl Into<String>,
    ) -> ContinuityError {
        ContinuityError {
            file: self.file.to_owned(),
            line: self.line,
            kind,
            message: message.into(),
            mend: mend.into(),
            others: Vec::new(),
        }
    }
}

/// Text of a file as a message may show it: short, and nothing that a terminal would obey.
pub(super) fn shown(text: &str) -> String {
    let clean: String = text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).take(40).collect();
    format!("`{clean}{}`", if text.chars().count() > 40 { "…" } else { "" })
}
