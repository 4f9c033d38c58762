//! What can be wrong with a capture or with the list of its channels: where, what, and what would mend it.
use thiserror::Error;

/// Why a capture can't be checked.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}{}: {message}; {mend}", .line.map(|l| format!(":{l}")).unwrap_or_default())]
#[non_exhaustive]
pub struct CaptureError {
    /// The file.
    pub file: String,
    /// Its line, counted from 1, if one is to blame.
    pub line: Option<u64>,
    /// What kind of mistake it is.
    pub kind: CaptureErrorKind,
    /// What is wrong.
    pub message: String,
    /// What would mend it.
    pub mend: String,
}

/// What kind of mistake it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum CaptureErrorKind {
    /// The system can't read the file.
    Unreadable,
    /// The file is not what its format asks for.
    Format,
    /// The file is larger than anything that an analyser writes.
    TooMuch,
    /// Times run backwards, or are none.
    Time,
    /// A channel or contact is missing, named twice or unknown.
    Channel,
    /// A contact that the circuit reads has no level.
    NoLevel,
    /// A circuit that is to explain it is none.
    Circuit,
    /// Too many states stay possible to go on.
    TooOpen,
    /// Its time is over, or somebody stopped it.
    Over,
}

impl CaptureError {
    pub(super) fn new(
        file: &str,
        line: Option<u64>,
        kind: CaptureErrorKind,
        message: impl Into<String>,
        mend: impl Into<String>,
    ) -> Self {
        CaptureError { file: file.to_owned(), line, kind, message: message.into(), mend: mend.into() }
    }
}

/// Text of a file as a message may show it: short, and nothing that a terminal would obey.
pub(super) fn shown(text: &str) -> String {
    let clean: String = text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).take(40).collect();
    format!("`{clean}{}`", if text.chars().count() > 40 { "…" } else { "" })
}
