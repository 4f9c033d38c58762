//! What Gluewright proves with: the typed surface, circuits, traced boards, the machine that gives them behaviour, the proof
//! between two of them, and a refutation explained. Nothing here knows a device.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

// the derive writes `::gluewright`, also in this crate's own tests
#[cfg(test)]
extern crate self as gluewright;

pub mod bench;
pub mod board;
pub mod circuit;
pub mod digest;
pub mod explain;
pub mod figures;
pub mod graph;
pub mod limit;
pub mod machine;
pub mod nearest;
pub mod order;
pub mod prelude;
pub mod prove;
pub mod random;
pub mod signals;
pub mod simulate;
pub mod solver;
pub mod terms;
pub mod threads;

pub use prove::{
    after, always, changes_only_while, goes_high_only_while, goes_low_only_while, never, prove, prove_of, reachable,
    true_only_while, whenever,
};
pub use signals::build as circuit_of;
pub use signals::build_for as circuit_for;
pub use signals::{
    ActiveHigh, ActiveLow, Assertion, BuildError, Buried, Circuit, Clock, Data, Definition, Edge, InOut, Input, Latch,
    Level, Mistake, Node, OpenCollector, Output, PushPull, Register, ThreeState, Wiring, Word, all_of, any_of,
    assert_while, choose, drives, each, follow, high_while, low_while, on, open_while, wired_to,
};
