//! Our own Verilog read back to a circuit: exactly what `verilog` writes, and a line for everything else.
mod lift;
mod parse;
mod tokens;

use thiserror::Error;

use gluewright_kernel::circuit::{Circuit, Malformed};

/// What is wrong in a netlist, and in which line.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("line {line}: {problem}")]
pub struct NetlistError {
    /// The line, counted from 1.
    pub line: u32,
    /// What is wrong.
    pub problem: NetlistProblem,
}

/// What can be wrong in a netlist.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum NetlistProblem {
    /// A character that is in none of our netlists.
    #[error("`{0}` is in none of the netlists that are read here: only files written by this program are")]
    Character(char),
    /// Something else was due.
    #[error("{expected} was expected, not {found}: only files written by this program are read here")]
    Expected {
        /// What was due.
        expected: &'static str,
        /// What is there.
        found: String,
    },
    /// An expression that is nested too deeply.
    #[error("the expression is nested too deeply: only files written by this program are read here")]
    TooDeep,
    /// A name that isn't declared.
    #[error("`{0}` is not declared: declare it, or correct the name")]
    Undeclared(String),
    /// A name that is declared twice.
    #[error("`{0}` is declared a second time: remove one of the two")]
    Twice(String),
    /// A name with two definitions.
    #[error("`{0}` is defined a second time: remove one of the two")]
    DefinedTwice(String),
    /// A wire or register without a definition.
    #[error("`{0}` is declared and never defined: complete the file")]
    Undefined(String),
    /// A definition that doesn't suit the declaration.
    #[error("`{name}` is {declared} and can't be {defined}: correct the declaration")]
    Unsuited {
        /// The name.
        name: String,
        /// What it is declared as.
        declared: &'static str,
        /// What the definition makes of it.
        defined: &'static str,
    },
    /// What came of it is no circuit.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// A port whose comment doesn't say where it is.
    #[error("the port `{0}` has no comment with contact and pin: restore the comment as it was written")]
    NoPlace(String),
    /// A pin that two ports have.
    #[error("pin {pin} is that of `{port}` already: restore the comment as it was written")]
    PinTwice {
        /// The pin.
        pin: u16,
        /// The port that has it.
        port: String,
    },
}

/// The circuit that a netlist of ours describes. Its contacts are the device's pins by the comments of the ports (the
/// first, for a port with two), so that it goes into its socket as a device does.
///
/// # Errors
/// The first thing that isn't as this program writes it, with its line.
pub fn read(text: &str) -> Result<Circuit, NetlistError> {
    let circuit = lift::circuit(&parse::module(tokens::tokens(text)?)?)?;
    circuit.check().map_err(|malformed| wrong(1, NetlistProblem::Malformed(malformed)))?;
    Ok(circuit)
}

/// An error in a line.
fn wrong(line: u32, problem: NetlistProblem) -> NetlistError {
    NetlistError { line, problem }
}
