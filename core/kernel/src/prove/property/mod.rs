//! Properties of a card or a traced board by itself: what it never does, what follows what, what can happen at all.
//!
//! The card is cut down to what the property depends on, and a monitor beside it says after each event whether the
//! property is broken. Short runs, induction over several steps and a search for an invariant decide; then every order
//! of changes that delays decide is asked about, and whether the cases that the property speaks of come about at all.
mod ask;
mod bounded;
mod decide;
mod doubt;
mod drawn;
mod frames;
mod json;
mod monitor;
mod report;
mod stated;
#[cfg(test)]
mod tests;
mod text;
mod unroll;
mod verdict;
mod words;

pub use stated::{Stated, StatedOf, prove_of};
pub use verdict::{Broken, Case, Condition, Held, How, Sequence};
pub(super) use words::Shape;
pub use words::{After, Claimed, Holding, Property, Whenever, Within, after, reachable, true_only_while, whenever};
