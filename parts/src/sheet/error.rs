//! What can be wrong with a data file.
use thiserror::Error;

/// A data file that can't be read.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}: {what}")]
pub struct SheetError {
    /// The data file.
    pub file: String,
    /// What is wrong, and the mend.
    pub what: Fault,
}

/// What is wrong with a data file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum Fault {
    /// It is not TOML, or not of the shape that a data file has.
    #[error("{0}")]
    Shape(String),
    /// A pattern that stands for no pin.
    #[error("`{pattern}` in [[{table}]] is no pin of this type; its pins are {pins}")]
    NoSuchPin {
        /// The table it stands in.
        table: &'static str,
        /// The pattern.
        pattern: String,
        /// The names of the pins.
        pins: String,
    },
    /// A path that joins no pin to another.
    #[error(
        "no pin of `{to}` in [[{table}]] goes with one of `{from}`: do the small letters stand for the same thing?"
    )]
    NoPath {
        /// The table it stands in.
        table: &'static str,
        /// The pattern of the input.
        from: String,
        /// The pattern of the output.
        to: String,
    },
    /// A key in `from_memory` that has no figure.
    #[error("`from_memory` in [[{table}]] names `{key}`, which stands for nothing there")]
    NothingRecalled {
        /// The table it stands in.
        table: &'static str,
        /// The key.
        key: String,
    },
    /// A table without a figure.
    #[error("[[{table}]] has no figure; leave it out if none is known")]
    NoFigure {
        /// The table.
        table: &'static str,
    },
    /// A family that is not known.
    #[error("`{0}` is no family: write standard, CD4000 or the letters of one, such as LS")]
    NoFamily(String),
    /// A number of its maker's without a family.
    #[error("`{0}` is no number of the 74, 54 or 4000 series: say with `family = …` whose levels it has")]
    OwnNumber(String),
}
