//! Where a thing was written: a line of Rust, or a row of a trace.
use std::fmt;
use std::sync::Arc;

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

/// Where something was written, for messages.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Origin {
    /// Not written by a user.
    #[default]
    Nowhere,
    /// A line of a file: Rust source, a trace in CSV, a fuse file.
    Line {
        /// The file's name.
        file: Arc<str>,
        /// Counted from 1.
        line: u32,
    },
}

impl Origin {
    /// A line of a file.
    pub fn line(file: &Arc<str>, line: u32) -> Self {
        Origin::Line { file: Arc::clone(file), line }
    }

    /// The place of the caller in its own source.
    #[track_caller]
    pub fn here() -> Self {
        Origin::from(std::panic::Location::caller())
    }
}

impl From<&std::panic::Location<'_>> for Origin {
    fn from(at: &std::panic::Location<'_>) -> Self {
        Origin::Line { file: at.file().into(), line: at.line() }
    }
}

/// A line is `{"file": …, "line": …}`, nowhere is `null`.
impl Serialize for Origin {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Origin::Nowhere => to.serialize_none(),
            Origin::Line { file, line } => {
                let mut to = to.serialize_struct("Origin", 2)?;
                to.serialize_field("file", &**file)?;
                to.serialize_field("line", line)?;
                to.end()
            }
        }
    }
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Origin::Nowhere => f.write_str("nowhere"),
            Origin::Line { file, line } => write!(f, "{file}:{line}"),
        }
    }
}
