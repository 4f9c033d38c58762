//! The program of a circuit: its job, its options, its progress on a terminal, the folder that it writes.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

// the derive writes `::gluewright`, also in this crate's own tests
#[cfg(test)]
extern crate gluewright_kernel as gluewright;

pub mod job;
