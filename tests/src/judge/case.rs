//! A pair under judgement: what is asked about it, how far, and what was found so far.
use std::cell::RefCell;
use std::collections::HashMap;
use std::time::{Duration, Instant};

use gluewright::circuit::Circuit;

use super::tally::Tally;
use crate::walk::{Allowed, Walk};

/// How far a question goes.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Joint states of the walk.
    pub states: usize,
    /// Events of the prover's search.
    pub depth: usize,
    /// For the prover with one question, and once more for the walk.
    pub time: Duration,
    /// Of this, for the walk over a proved pair as a whole, before it is walked contact by contact.
    pub whole: Duration,
    /// Whether the walk looks for a shorter sequence than a refutation's.
    pub shortest: bool,
    /// Drawn runs in the simulator from outside, and events in each; none: it is not asked.
    pub outside: (usize, usize),
}

/// A pair and what is asked about it.
#[derive(Clone, Copy)]
pub struct Case<'c> {
    /// What it is, for a person.
    pub what: &'c str,
    /// The original.
    pub original: &'c Circuit,
    /// The replacement.
    pub replacement: &'c Circuit,
    /// Whether the board keeps to these levels; the question assumes the same.
    pub allowed: &'c Allowed,
    /// What was found of slices before, by what they are: of use where many changes leave most slices alone. Only for
    /// pairs under the same assumptions, and these may name no contact.
    pub known: Option<&'c Known>,
}

/// Slices by their text, with whether the walk got to the end of them, and whether they ran outside.
pub type Known = RefCell<HashMap<String, [bool; 2]>>;

impl std::fmt::Debug for Case<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.what)
    }
}

/// A pair, and what the others say of it.
pub(super) struct Judging<'c> {
    pub(super) case: Case<'c>,
    pub(super) bounds: Bounds,
    pub(super) t: Tally,
}

impl<'c> Judging<'c> {
    pub(super) fn walk_of<'w>(&self, original: &'w Circuit, replacement: &'w Circuit) -> Walk<'w>
    where
        'c: 'w,
    {
        let until = Some(Instant::now() + self.bounds.time);
        Walk { allowed: self.case.allowed, until, ..Walk::new(original, replacement, self.bounds.states) }
    }

    pub(super) fn walk(&self) -> Walk<'c> {
        self.walk_of(self.case.original, self.case.replacement)
    }

    pub(super) fn wrong(&mut self, why: &str) {
        self.t.wrong.push(format!("{}: {why}", self.case.what));
    }
}
