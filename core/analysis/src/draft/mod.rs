//! A first draft of a replacement's Rust source, written from the traced original. It is a beginning to be edited.
mod cone;
mod fields;
mod file;
mod found;
mod names;
mod texts;
mod wiring;

use gluewright_kernel::circuit::Circuit;
use serde::Serialize;

/// A draft, with what is to be looked at in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Draft {
    /// The name of the struct.
    pub name: String,
    /// The Rust source: the circuit, its wiring, and the test that proves it.
    pub source: String,
    /// What the source does not say by itself, one sentence each: a second supply contact, say. Guesses stand beside their fields.
    pub remarks: Vec<String>,
}

/// Why there is no draft.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoDraft {
    /// Nothing meets the board.
    #[error("the trace has no contacts, so there is nothing to replace: name the contacts of the card")]
    NoContacts,
    /// The language has no word for it.
    #[error("{what} can't be written down in the language: {mend}")]
    NotWritable {
        /// What of the trace.
        what: String,
        /// What to do.
        mend: String,
    },
}

/// How a draft is written.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Form {
    /// The name of the struct, in Rust's form for types.
    pub name: String,
    /// The file that holds the trace, as the source will find it beside itself.
    pub trace: String,
    /// Whether it ends with a `main` that makes the files.
    pub with_main: bool,
    /// The packages of the board that are replaced; all if there are none.
    pub replaced: Vec<String>,
    /// Whether what is no logic of the library stays, when the trace is read.
    pub others_stay: bool,
    /// Whether supply pins without a row are where data sheets print them, when the trace is read.
    pub printed_supplies: bool,
}

impl Form {
    /// The form of a source for a trace in a file: its name in Rust's form for types, without `main`.
    pub fn of_trace(file: &str) -> Self {
        let stem = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let stem = stem.split('.').next().unwrap_or(stem);
        Form {
            name: names::of_type(stem),
            trace: file.to_owned(),
            with_main: false,
            replaced: Vec::new(),
            others_stay: false,
            printed_supplies: false,
        }
    }

    /// The same for some packages of the board alone.
    #[must_use]
    pub fn replacing(mut self, packages: &[String]) -> Self {
        self.replaced = packages.to_vec();
        self
    }

    /// The same with a `main` that proves, fits and writes the files.
    #[must_use]
    pub fn with_main(mut self) -> Self {
        self.with_main = true;
        self
    }
}

/// Writes a first draft of the replacement from the circuit of a trace: contacts with names, polarity and kind of driver,
/// registers named after their nets, conditions that several things share as `let`, and the test that proves it.
///
/// ```
/// # extern crate gluewright_kernel as gluewright;
/// # use gluewright_analysis::draft::{Form, draft};
/// use gluewright::prelude::*;
///
/// /// A gate that answers while the telephone rings and nobody has lifted.
/// #[derive(Circuit)]
/// struct Bell {
///     #[contact(1)]
///     ringing: Input<ActiveHigh>,
///     #[contact(2)]
///     hook: Input<ActiveLow>,
///     #[contact(3)]
///     bell_n: Output<ActiveLow>,
/// }
///
/// impl Wiring for Bell {
///     fn wire(&self) -> BellWiring {
///         BellWiring { bell_n: assert_while(self.ringing.asserted() & !self.hook.asserted()) }
///     }
/// }
///
/// let draft = draft(&gluewright::circuit_of::<Bell>()?, &Form::of_trace("bell.csv"))?;
/// assert!(draft.source.contains("bell: Output<ActiveLow>"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// If nothing meets the board, or if the language has no word for something in it.
pub fn draft(original: &Circuit, form: &Form) -> Result<Draft, NoDraft> {
    let circuit = original.live();
    if circuit.contacts().is_empty() {
        return Err(NoDraft::NoContacts);
    }
    let steppings = found::steppings(&circuit);
    let fields = fields::Fields::of(&circuit, &steppings)?;
    let wiring = wiring::Wiring::of(&circuit, &fields, &steppings);
    Ok(file::written(&circuit, &fields, wiring, form))
}
