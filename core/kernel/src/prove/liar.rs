//! A prover that ignores counterexamples: for tests of what judges a proof from outside. It is there only with the feature
//! `liar`, and lies only where it is asked to.
#[cfg(feature = "liar")]
use std::cell::Cell;

#[cfg(feature = "liar")]
use super::{Failure, Proof, Question};
use crate::solver::Answer;

#[cfg(feature = "liar")]
thread_local! {
    static LYING: Cell<bool> = const { Cell::new(false) };
}

/// Whether counterexamples are ignored here.
pub(super) fn is_lying() -> bool {
    #[cfg(feature = "liar")]
    return LYING.get();
    #[cfg(not(feature = "liar"))]
    false
}

/// What is made of an answer about an obligation.
pub(super) fn heard(answer: Answer) -> Answer {
    match answer {
        Answer::Yes(_) if is_lying() => Answer::No,
        other => other,
    }
}

#[cfg(feature = "liar")]
impl Question {
    /// Asks a prover that takes every counterexample to its obligations for none. What comes back is no proof.
    ///
    /// # Errors
    /// As for [`ask`](Question::ask).
    pub fn ask_a_liar(&self) -> Result<Proof, Failure> {
        LYING.set(true);
        let claimed = self.ask();
        LYING.set(false);
        claimed
    }
}
