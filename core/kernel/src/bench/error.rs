//! What a bench can't do, and what to do instead.
use thiserror::Error;

use crate::board::TraceError;
use crate::circuit::Malformed;
use crate::signals::BuildError;
use crate::simulate::NoContact;

/// Why the bench can't do what it was asked.
#[derive(Error)]
#[non_exhaustive]
pub enum BenchError {
    /// The source describes no circuit.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// The trace can't be run.
    #[error(transparent)]
    Board(Box<TraceError>),
    /// What was given is no circuit.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// A contact went away.
    #[error(transparent)]
    Contact(#[from] NoContact),
    /// Nothing is called that.
    #[error("`{circuit}` has nothing that is called `{name}`{}", near.as_ref().map(|near| format!(": is it `{near}`?")).unwrap_or_default())]
    NoSuch {
        /// The circuit.
        circuit: String,
        /// What was asked for.
        name: String,
        /// What was probably meant.
        near: Option<String>,
    },
    /// The name of an array where one contact is meant.
    #[error(
        "`{name}` is an array: take one of it, `{name}[0]`, or all of it as a number: set_number and see_number, in a table a number"
    )]
    AnArray {
        /// The array.
        name: String,
    },
    /// What is given to `at` is no field.
    #[error("this is no field of the circuit: write `bench.at(|card| card.reset)`, with an index for an array")]
    NoField,
    /// The bench can't drive an output.
    #[error("`{name}` is an output: the circuit drives it, and the bench only looks at it")]
    AnOutput {
        /// The contact.
        name: String,
    },
    /// The circuit drives this contact now.
    #[error("the circuit drives `{name}` at this moment: first bring it to let go of the contact")]
    Drives {
        /// The contact.
        name: String,
    },
    /// Inputs that have no level.
    #[error(
        "nobody drives {}: give each input its level with set(…), or all that are left with release_the_rest()",
        quoted(names)
    )]
    NobodyDrives {
        /// The contacts.
        names: Vec<String>,
    },
    /// A contact that carries data or a clock.
    #[error("neither level of `{name}` is asserted: put LOW or HIGH on it with set(…), and look with see(…)")]
    NoPolarity {
        /// The contact.
        name: String,
    },
    /// A number that an array has no room for.
    #[error("{number} does not fit on the {bits} contacts of `{name}`")]
    TooLarge {
        /// The array.
        name: String,
        /// The number.
        number: u64,
        /// How many contacts there are.
        bits: usize,
    },
    /// The source says how the element starts.
    #[error("the source of `{name}` says how it starts")]
    StartGiven {
        /// The element.
        name: String,
    },
    /// What must be said before power comes on.
    #[error("power is on: say {what} before anything else is done, on a new bench")]
    PowerIsOn {
        /// What was to be said.
        what: String,
    },
    /// It oscillates.
    #[error("the circuit does not come to rest in step {step}: something in it oscillates")]
    Restless {
        /// The step, counted from 0, which is power-up.
        step: usize,
    },
    /// A table that can't be read.
    #[error("line {line} of the table: {why}")]
    Table {
        /// The line, counted from 1.
        line: usize,
        /// What is wrong, and the mend.
        why: String,
    },
    /// A row of a table that shows something else.
    #[error("line {line} of the table: `{name}` is {found}, not {expected}")]
    Differs {
        /// The line, counted from 1.
        line: usize,
        /// The contact or element.
        name: String,
        /// What the table says.
        expected: String,
        /// What is there.
        found: String,
    },
}

impl std::fmt::Debug for BenchError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // `fn main` and `#[test]` print errors through Debug: a person reads this
        write!(f, "\n{self}")
    }
}

fn quoted(names: &[String]) -> String {
    const MOST: usize = 6;
    let mut text = names.iter().take(MOST).map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
    if let Some(more) = names.len().checked_sub(MOST).filter(|more| *more > 0) {
        text.push_str(&format!(" and {more} more"));
    }
    text
}
