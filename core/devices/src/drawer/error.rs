//! What can be wrong with a drawer file.
use thiserror::Error;

use crate::row_problem::{RowProblem, first};

/// A drawer that can't be used.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum DrawerError {
    /// The file can't be read.
    #[error("can't read the drawer {file}: {error}; write one with the header `maker,type,grade,package,count`")]
    Unreadable {
        /// The file.
        file: String,
        /// What the system says.
        error: std::io::Error,
    },
    /// Something in the file is wrong: everything that was found.
    #[error("{}", first(.0))]
    Wrong(Vec<Problem>),
}

/// Something wrong with a row of it.
pub type Problem = RowProblem<ProblemKind>;

/// What is wrong with a field of a drawer file.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum ProblemKind {
    /// Not text.
    #[error("the file is not text in UTF-8")]
    NotText,
    /// No header, or one without a column.
    #[error("the header has no column `{0}`")]
    NoColumn(&'static str),
    /// A column twice.
    #[error("the header has the column `{0}` twice")]
    ColumnTwice(&'static str),
    /// Nothing in the file.
    #[error("the file has no rows")]
    NoRows,
    /// A quotation mark that is not closed.
    #[error("a quotation mark is opened and not closed")]
    Quotation,
    /// An empty field that must not be.
    #[error("the row says nothing here")]
    Missing,
    /// A type that holds no known generic type number.
    #[error("`{0}` is no type that has a description here")]
    UnknownType(String),
    /// A package in which the device doesn't come.
    #[error("a {device} doesn't come in `{package}`")]
    UnknownPackage {
        /// The package.
        package: String,
        /// The device.
        device: &'static str,
    },
    /// A count that is no number.
    #[error("`{0}` is no count")]
    Count(String),
    /// More rows than a drawer has.
    #[error("more than {0} rows")]
    TooMany(usize),
}
