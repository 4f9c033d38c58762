//! What can be wrong with a dump.
use gluewright::circuit::Label;
use thiserror::Error;

use super::PulledTo;

/// A dump that can't be the table of a combinational part, or a file that can't be a reading.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum DumpError {
    /// There is no input or no output.
    #[error("a dump has at least one input and one output")]
    NoPins,
    /// There are more rows than anybody reads.
    #[error("{inputs} inputs are too many: a dump has at most {most}; leave out those that the card ties to a level")]
    TooManyInputs {
        /// How many.
        inputs: usize,
        /// How many there may be.
        most: usize,
    },
    /// A pin that is named twice.
    #[error("pin {pin} is named twice: a pin is an input or an output of a dump")]
    PinTwice {
        /// The pin.
        pin: Label,
    },
    /// A binary file of another length.
    #[error(
        "{file}: {found} bytes, but {rows} rows of {bytes} bytes are {expected}: was the part read whole, and in the order of the inputs?"
    )]
    Length {
        /// The file.
        file: String,
        /// Its bytes.
        found: usize,
        /// The rows of the part.
        rows: usize,
        /// Bytes of a row.
        bytes: usize,
        /// Bytes of all rows.
        expected: usize,
    },
    /// A CSV file that can't be read as one.
    #[error("{file}:{line}: {what}")]
    Csv {
        /// The file.
        file: String,
        /// The line.
        line: u64,
        /// What is wrong, and the mend.
        what: String,
    },
    /// Two readings of one row differ.
    #[error(
        "output {output} at {row} reads both high and low with the same resistors: the part holds something, or a contact is bad; a table can't stand for it"
    )]
    Unsteady {
        /// The output.
        output: Label,
        /// The row by its inputs.
        row: String,
    },
    /// A row reads low with pull-ups and high with pull-downs.
    #[error(
        "output {output} at {row} reads low with pull-ups and high with pull-downs, which no part does: are the files swapped?"
    )]
    Swapped {
        /// The output.
        output: Label,
        /// The row by its inputs.
        row: String,
    },
    /// There is no reading.
    #[error("{name}: nothing was read")]
    NothingRead {
        /// The part.
        name: String,
    },
}

/// What is wrong with one output in one row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    Unsteady,
    Swapped,
}

impl DumpError {
    pub(super) fn unsteady(fault: Fault, output: &Label, row: String) -> Self {
        let output = output.clone();
        match fault {
            Fault::Unsteady => DumpError::Unsteady { output, row },
            Fault::Swapped => DumpError::Swapped { output, row },
        }
    }
}

impl PulledTo {
    /// As a CSV file says it.
    pub(super) fn named(word: &str) -> Option<Self> {
        match word.trim().to_ascii_lowercase().as_str() {
            "up" => Some(PulledTo::Supply),
            "down" => Some(PulledTo::Ground),
            _ => None,
        }
    }
}
