//! What can be wrong with a file about the board around the card.
use thiserror::Error;

use gluewright_devices::row_problem::{RowProblem, first};

/// A file about the board that can't be used.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum HostError {
    /// It can't be read.
    #[error(
        "can't read {file}, which is to say what hangs on the contacts: {error}; write one with the header `contact,what,value,part,edge,known_from`"
    )]
    Unreadable {
        /// The file.
        file: String,
        /// What the system says.
        #[source]
        error: std::io::Error,
    },
    /// Something in it is wrong: everything that was found.
    #[error("{}", first(.0))]
    Wrong(Vec<Problem>),
}

/// Something wrong with a row of it.
pub type Problem = RowProblem<ProblemKind>;

/// What is wrong with a field.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum ProblemKind {
    /// Not text, or a quotation mark that is never closed.
    #[error("the row can't be read as text")]
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
    /// An empty field that must not be.
    #[error("the row says nothing here")]
    Missing,
    /// A field that says something where nothing belongs.
    #[error("`{0}` has no meaning in this row")]
    Needless(String),
    /// A word that the column `what` does not know.
    #[error("`{0}` is none of the words for what hangs on a contact, or how it is timed")]
    Word(String),
    /// A contact that the card does not have.
    #[error("the card has no contact `{0}`")]
    Contact(String),
    /// A name that several contacts have.
    #[error("several contacts are called `{0}`")]
    SeveralContacts(String),
    /// A number that is none, or below nought.
    #[error("`{0}` is no {1}")]
    Number(String, &'static str),
    /// A type that nobody knows.
    #[error("no part `{0}` is known")]
    Part(String),
    /// A pin that the part does not have, or at which it has no logic.
    #[error("`{pin}` is no pin of a {part} that carries a signal")]
    Pin {
        /// The pin.
        pin: String,
        /// The part.
        part: String,
    },
    /// A contact that can't be what the row says of it.
    #[error("{0}")]
    Wrong(&'static str),
    /// The same said twice.
    #[error("line {0} says this already")]
    Twice(u32),
    /// More rows than such a file has.
    #[error("more than {0} rows")]
    TooMany(usize),
}
