//! What is found out about an original and its replacement beyond their logic: times, loads, hazards, synchronisers, test
//! vectors, captures of the running card, single changes that would mend a refutation, which device to take, and readings of a meter on a sister board.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

// the derive writes `::gluewright`, also in this crate's own tests
#[cfg(test)]
extern crate gluewright_kernel as gluewright;

pub mod capture;
pub mod choose;
pub mod continuity;
pub mod draft;
pub mod edit;
pub mod hazard;
pub mod host;
pub mod loading;
pub mod mend;
pub mod synchronisers;
pub mod timing;
pub mod vectors;
