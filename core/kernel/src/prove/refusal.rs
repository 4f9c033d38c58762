//! Why a question is not asked: what makes no sense in it, and the mend.
use crate::circuit::{Label, Malformed};

use super::Of;

/// What makes no sense in a question, so that no answer to it would mean anything.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// A side is no circuit.
    #[error("the {side}: {what}")]
    Malformed {
        /// Which side.
        side: Of,
        /// What is wrong with it.
        what: Malformed,
    },
    /// The replacement or an assumption can't be built, or the original can't be a circuit.
    #[error("{0}")]
    Unbuilt(String),
    /// An assumption, a restriction or a group names a contact that neither side has.
    #[error("{by} names contact {label}, but neither the original nor the replacement has one of that label{}", meant(.near))]
    NoContact {
        /// The label.
        label: Label,
        /// Who names it, in words.
        by: String,
        /// Labels of contacts that were probably meant.
        near: Vec<String>,
    },
    /// These assumptions can't all hold.
    #[error("these assumptions can't all hold, so nothing would be proved: {}", .0.join("; "))]
    Contradiction(Vec<String>),
    /// A contact can never change one way under the assumptions.
    #[error(
        "contact {label} {name} can never go {} under what is assumed, so nothing about that would be proved: {}: {}",
        if *high { "high" } else { "low" },
        .by.join("; "),
        if *grouped { "weaken it" } else { "say which contacts change together, or weaken it" }
    )]
    Stuck {
        /// The contact's label.
        label: Label,
        /// The contact's name.
        name: String,
        /// Which way it can never go.
        high: bool,
        /// The fewest assumptions and restrictions that hold it, in words.
        by: Vec<String>,
        /// Whether other contacts that change with it would be no help.
        grouped: bool,
    },
    /// A group or a restriction moves a contact that the card drives at all times.
    #[error(
        "contact {label} {name} is driven by the card at all times, so the board can't change it: what the board does may \
         hang on it, but it is not the board's to move"
    )]
    Driven {
        /// The contact's label.
        label: Label,
        /// The contact's name.
        name: String,
    },
    /// No levels at the contacts that keep the assumptions were found.
    #[error(
        "the assumptions can hold, but no levels at the contacts that keep them were drawn: put them less narrowly"
    )]
    Narrow,
    /// An acknowledgement is of nothing, or of more than one thing.
    #[error("{0}")]
    Acknowledgement(String),
    /// The solver gave up before anything was asked.
    #[error("{asked}: the solver gave up ({why})")]
    GaveUp {
        /// What it was asked.
        asked: String,
        /// What it said.
        why: String,
    },
    /// The prover contradicts itself: none of its verdicts can be believed.
    #[error("{0}: this is a mistake of the prover, please report it")]
    Mistake(String),
}

fn meant(near: &[String]) -> String {
    let near: Vec<&str> = near.iter().map(String::as_str).collect();
    crate::nearest::did_you_mean(&near).map_or_else(String::new, |question| format!(": {question}"))
}
