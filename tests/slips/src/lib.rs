//! Slips of the pen in the sources and traces of the examples, and what is needed to say whether a mend undoes one.
pub mod cards;
pub mod places;
pub mod trace;

mod claims;
mod sources;

pub use sources::{SLIPS, Slip};
