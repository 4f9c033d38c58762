//! Proof that a replacement refines the original, or the shortest sequence that shows it does not.
//!
//! The way: draw one long run of the replacement and solve for a start of the original that explains it; guess from
//! that pair which bits correspond; refine the guess until every kind of event keeps it and every contact agrees, phase
//! by phase; check the starts. What does not go through is searched for a run that nothing explains.
mod acknowledge;
mod ask;
mod assume;
mod attempt;
mod call;
mod candidates;
mod certificate;
mod claim;
mod context;
mod correspond;
mod draw;
mod drawn;
mod generalise;
mod hidden;
mod hypothesis;
mod in_turn;
mod invariant;
mod joined;
pub(crate) mod json;
mod liar;
mod matching;
mod obligations;
mod oscillation;
mod outcome;
mod pair;
mod partial;
mod parts;
mod plain;
mod progress;
mod property;
mod pulses;
mod question;
mod refine;
mod refusal;
mod replay;
mod run;
mod sanity;
mod search;
mod shorten;
mod signature;
mod start;
mod strengthen;
#[cfg(test)]
mod tests;
mod time;
mod vacuity;
mod verdict;
mod walk;
mod wires;

pub use assume::{Assumption, Formula, Restriction, Way};
pub use certificate::{Product, Tied};
pub use claim::{
    Against, Assumed, Claim, Original, always, changes_only_while, goes_high_only_while, goes_low_only_while, never,
    prove,
};
pub use hidden::{Hidden, Of, Why};
// public: mends ask again what was asked, and drawn runs before they ask the proof
pub use generalise::{Evidence, Moves};
pub use obligations::Obligation;
pub use oscillation::Oscillation;
pub use progress::Step;
pub use property::{
    After, Broken, Case, Claimed, Condition, Held, Holding, How, Property, Sequence, Stated, StatedOf, Whenever,
    Within, after, prove_of, reachable, true_only_while, whenever,
};
pub use question::Question;
pub use refusal::Refusal;
pub use verdict::{
    Difference, Failure, Figures, Happening, Method, Proof, ProvedPart, Refutation, Typical, Undecided, Withheld,
};

/// The two sides in words, by number.
const SIDES: [&str; 2] = ["original", "replacement"];
