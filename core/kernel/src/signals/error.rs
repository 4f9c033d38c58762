//! What can be wrong with a wiring that compiles.
use std::fmt;

use serde::Serialize;
use thiserror::Error;

use crate::circuit::{Malformed, Origin};

/// A circuit that can't be built, with all its mistakes.
#[derive(Clone, Debug, PartialEq, Eq, Error, Serialize)]
pub struct BuildError {
    circuit: String,
    mistakes: Vec<Mistake>,
}

impl BuildError {
    pub(super) fn new(circuit: String, mistakes: Vec<Mistake>) -> Self {
        BuildError { circuit, mistakes }
    }

    /// The circuit's name.
    pub fn circuit(&self) -> &str {
        &self.circuit
    }

    /// Everything that is wrong, in the order in which it was found.
    pub fn mistakes(&self) -> &[Mistake] {
        &self.mistakes
    }
}

impl fmt::Display for BuildError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` can't be built", self.circuit)?;
        for mistake in &self.mistakes {
            write!(f, "\n  {mistake}")?;
        }
        Ok(())
    }
}

/// One mistake in a wiring, with its place and its mend.
#[derive(Clone, Debug, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Mistake {
    /// A signal that was made in another build, or outside one, and kept.
    #[error(
        "{origin}: a signal of another build is used here: take it from `self`, signals can't be kept between builds"
    )]
    ForeignSignal {
        /// Where it was used.
        origin: Origin,
    },
    /// A three-state output without a drive condition.
    #[error("{origin}: three-state output `{name}` is never told when it drives: add drive_while(…)")]
    NeverDrives {
        /// The output's name.
        name: String,
        /// Where it was defined.
        origin: Origin,
    },
    /// More than one `drive_while`.
    #[error("{origin}: `{name}` is told more than once when it drives: join the conditions in one drive_while(…)")]
    DrivesTwice {
        /// The output's name.
        name: String,
        /// Where it was defined.
        origin: Origin,
    },
    /// More than one start.
    #[error("{origin}: `{name}` is told more than once how it starts: keep one")]
    StartsTwice {
        /// The element's name.
        name: String,
        /// Where it was defined.
        origin: Origin,
    },
    /// Clear, preset, assert, release or a start on a gate.
    #[error(
        "{origin}: `{name}` is a gate and holds nothing, so it has no {what}: join the condition to what it follows, \
         or define it with on(…).load(…) or open_while(…).follow(…)"
    )]
    HoldsNothing {
        /// The output's name.
        name: String,
        /// The method that only registers and latches have.
        what: &'static str,
        /// Where it was defined.
        origin: Origin,
    },
    /// A number that a word has no room for.
    #[error("{origin}: {number} does not fit in {bits} bits")]
    NumberTooLarge {
        /// The number.
        number: u64,
        /// The word's width.
        bits: usize,
        /// Where it was written.
        origin: Origin,
    },
    /// A multiplexer with too few or too many inputs for its address.
    #[error("{origin}: an address of {bits} bits picks one of 2 to the power of {bits}, but {given} are given")]
    WrongChoices {
        /// How many are given.
        given: usize,
        /// The address's width.
        bits: usize,
        /// Where it was written.
        origin: Origin,
    },
    /// A circuit inside this one can't be built.
    #[error("`{name}`, inside: {}", mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Inside {
        /// The field.
        name: String,
        /// What is wrong with it.
        mistakes: Vec<Mistake>,
    },
    /// A contact of the card that is wired to another one of its own.
    #[error(
        "{origin}: `{name}` is wired to something that is not inside: only an output of a circuit inside can stand behind \
         a contact as it is; write follow(…) or assert_while(…)"
    )]
    WiredToOwn {
        /// The contact.
        name: String,
        /// Where it was defined.
        origin: Origin,
    },
    /// Something said of a wire.
    #[error(
        "{origin}: `{name}` is a wire here and nothing more: what drives it and when is the matter of what it is wired to"
    )]
    OnlyAWire {
        /// The contact.
        name: String,
        /// Where it was defined.
        origin: Origin,
    },
    /// A register or a latch on an input of a circuit inside.
    #[error(
        "{origin}: `{name}` is an input of a circuit inside: put a level or a condition on it, and give a register a field of its own"
    )]
    OnlyAGate {
        /// The input.
        name: String,
        /// Where it was defined.
        origin: Origin,
    },
    /// A circuit with parameters, and nothing that gives them.
    #[error(
        "`{circuit}` is made with parameters, and none are given: build it with `circuit_for`, or prove it with \
         `.with(…)`, and the struct of its parameters"
    )]
    NoParameters {
        /// The circuit.
        circuit: String,
    },
    /// Whether a contact is driven is asked for while the wiring still says so.
    #[error(
        "{origin}: what drives `{name}` is being defined here, so `drives` can't tell yet: it is for properties and \
         assumptions; name the condition with `let` and use it twice"
    )]
    DrivesTooEarly {
        /// The contact.
        name: String,
        /// Where it was asked for.
        origin: Origin,
    },
    /// A name that nothing in a traced circuit has.
    #[error("{origin}: `{circuit}` has no {what} `{name}`{}", near.as_ref().map_or_else(String::new, |near| format!(": did you mean `{near}`?")))]
    NoSuchName {
        /// The circuit.
        circuit: String,
        /// A net, register or latch; or a contact.
        what: &'static str,
        /// The name.
        name: String,
        /// What was probably meant.
        near: Option<String>,
        /// Where it was used.
        origin: Origin,
    },
    /// The description itself panicked: an index out of range, for instance.
    #[error("{origin}: the description of the circuit stops here: {said}")]
    Stopped {
        /// The panic's message.
        said: String,
        /// Where it stopped.
        origin: Origin,
    },
    /// What came of it is no circuit.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// A bit that a word doesn't have.
    #[error("{origin}: there is no bit {index} in a word of {bits} bits, they are counted from 0")]
    NoSuchBit {
        /// The bit that was asked for.
        index: usize,
        /// The word's width.
        bits: usize,
        /// Where it was asked for.
        origin: Origin,
    },
}
