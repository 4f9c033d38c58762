//! What is wrong with a row of a table that a user keeps: where, in which column, and what would help.
use std::fmt::Display;

use thiserror::Error;

use gluewright_kernel::circuit::Origin;

/// Something wrong with a row.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("{origin}: {field}: {kind}: {mend}")]
pub struct RowProblem<K: Display> {
    /// File and line.
    pub origin: Origin,
    /// The column.
    pub field: &'static str,
    /// What is wrong.
    pub kind: K,
    /// What would help.
    pub mend: String,
}

/// The first problems, one a line, and how many more there are: a file of the wrong kind has one in every row.
pub fn first<K: Display>(problems: &[RowProblem<K>]) -> String {
    const MOST: usize = 40;
    let mut lines: Vec<String> = problems.iter().take(MOST).map(ToString::to_string).collect();
    if problems.len() > MOST {
        lines.push(format!("and {} more", problems.len() - MOST));
    }
    lines.join("\n")
}
