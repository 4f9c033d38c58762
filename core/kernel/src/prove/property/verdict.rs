//! What is said of a property: it holds, it is broken by a run, nothing is said because too little can happen, or it is open.
use std::time::Duration;

use crate::circuit::Label;
use crate::explain::{Cause, Waveform};
use crate::prove::{Happening, Hidden, Refusal, Typical};

/// A property that holds, or a situation that was reached.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Held {
    /// The property, in words.
    pub property: String,
    /// The card or board.
    pub circuit: String,
    /// The assumptions under which it holds, in words.
    pub assumptions: Vec<String>,
    /// What was acknowledged, by name.
    pub acknowledged: Vec<String>,
    /// How it was found.
    pub how: How,
    /// Each case without which it would say nothing, and where it comes about.
    pub cases: Vec<Case>,
    /// Orders of changes that typical delays of the board's parts decide, and on which it may rest.
    pub typical: Vec<Typical>,
    /// What should be looked at all the same.
    pub findings: Vec<String>,
    /// Questions that went to the solver.
    pub questions: usize,
    /// How long it took.
    pub time: Duration,
}

/// How a property was found to hold.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum How {
    /// Runs of up to fewer events don't break it, and after this many steps without a break none comes: induction.
    Induction {
        /// Over this many steps.
        steps: usize,
    },
    /// By induction, strengthened by an invariant: states that can't be reached.
    Invariant {
        /// What never is, one line for each part.
        never: Vec<String>,
    },
    /// A run comes to it.
    Reached(Box<Sequence>),
}

/// A case of a property, and where it comes about.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Case {
    /// What comes about, in words.
    pub what: String,
    /// After how many events of a run it was seen; nothing if no run was found, and none was shown to be missing.
    pub after: Option<usize>,
}

/// A run of the card or board by itself.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Sequence {
    /// The property, in words.
    pub property: String,
    /// The card or board.
    pub circuit: String,
    /// The assumptions that it keeps, in words.
    pub assumptions: Vec<String>,
    /// Levels at power-up: label, name, level.
    pub levels: Vec<(Label, String, bool)>,
    /// What it holds at power-up, where that is open.
    pub start: Vec<(String, bool)>,
    /// The events, in order.
    pub events: Vec<Happening>,
    /// What the contacts show.
    pub waveform: Waveform,
    /// What each condition of the property is at the end, with the chain of cause if the run replays as usual.
    pub conditions: Vec<Condition>,
    /// What nobody knows of the card, and the run rests on: by step.
    pub chances: Vec<(usize, String)>,
    /// Whether no shorter run does it.
    pub shortest: bool,
}

/// A condition of a property at the end of a run.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Condition {
    /// In words.
    pub words: String,
    /// Whether it held before the last step, if there was one.
    pub before: Option<bool>,
    /// Whether it holds at the end.
    pub holds: bool,
    /// Why, from the end back.
    pub why: Vec<Cause>,
}

/// Why a property is not said to hold.
#[derive(Clone)]
#[non_exhaustive]
pub enum Broken {
    /// A run breaks it.
    Refuted(Box<Sequence>),
    /// What should be reachable never comes.
    Unreachable(Box<Held>),
    /// It holds, but says nothing: a case of it never comes about.
    Vacuous {
        /// The proof.
        held: Box<Held>,
        /// What never comes about, in words.
        never: Vec<String>,
    },
    /// It holds once everything has settled, but delays decide something on which it hangs.
    Withheld {
        /// What is open.
        hidden: Vec<Hidden>,
        /// What was proved of the settled levels.
        held: Box<Held>,
    },
    /// It could not be told.
    Undecided {
        /// The property, in words.
        property: String,
        /// The card or board.
        circuit: String,
        /// What was tried, in order.
        tried: Vec<String>,
        /// No run of up to this many events breaks it.
        searched: Option<usize>,
    },
    /// The card does not come to rest in some run, so that nothing can be said of it.
    Restless {
        /// The property, in words.
        property: String,
        /// The card or board.
        circuit: String,
        /// From where and by which event, in words.
        way: String,
    },
    /// The question makes no sense.
    Refused(Refusal),
}

impl std::error::Error for Broken {}
