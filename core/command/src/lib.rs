//! The program of a circuit: its job, its options, its progress on a terminal, the folder that it writes.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

pub mod job;
