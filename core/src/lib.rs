//! Describe the replacement of a lost cluster of TTL in Rust, prove it against the traced original, and emit what the
//! device programmer and the workbench need.
#![deny(missing_docs)]

pub mod board;
pub mod circuit;
pub mod cover;
pub mod device;
pub mod emit;
pub mod fit;
pub mod fusefile;
pub mod job;
pub mod logic;
pub mod machine;
pub mod prove;
pub mod signals;
pub mod simulate;
pub mod solver;
pub mod terms;
