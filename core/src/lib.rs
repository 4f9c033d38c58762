//! Describe the replacement of a lost cluster of TTL in Rust, prove it against the traced original, and emit what the
//! device programmer and the workbench need.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

// the derive writes `::gluewright`, also in this crate's own tests
#[cfg(test)]
extern crate self as gluewright;

pub mod board;
pub mod capture;
pub mod cautions;
pub mod choose;
pub mod circuit;
pub mod cover;
pub mod device;
pub mod drawer;
pub mod edit;
pub mod emit;
pub mod explain;
pub mod figures;
pub mod fit;
pub mod fusefile;
pub mod guide;
pub mod hazard;
pub mod job;
pub mod loading;
pub mod logic;
pub mod machine;
pub mod mend;
mod nearest;
pub mod netlist;
pub mod prelude;
pub mod prove;
pub mod report;
pub mod signals;
pub mod simulate;
pub mod solver;
pub mod synchronisers;
pub mod terms;
mod threads;
pub mod timing;
pub mod vectors;

pub use job::job;
pub use prove::{always, changes_only_while, goes_high_only_while, goes_low_only_while, never, prove};
pub use signals::build as circuit_of;
pub use signals::{
    ActiveHigh, ActiveLow, Assertion, BuildError, Buried, Circuit, Clock, Data, Definition, Edge, InOut, Input, Latch,
    Level, Mistake, Node, OpenCollector, Output, PushPull, Register, ThreeState, Wiring, Word, all_of, any_of,
    assert_while, choose, each, follow, high_while, low_while, on, open_while,
};
