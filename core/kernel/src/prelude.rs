//! Everything that a circuit's source file needs: `use gluewright::prelude::*;`.
pub use crate::prove::{
    Failure, after, always, changes_only_while, goes_high_only_while, goes_low_only_while, never, prove, prove_of,
    reachable, true_only_while, whenever,
};
pub use crate::signals::{
    ActiveHigh, ActiveLow, Assertion, Buried, Circuit, Clock, Data, Definition, Edge, InOut, Input, Latch, Level, Node,
    OpenCollector, Output, PushPull, Register, ThreeState, Wiring, Word, all_of, any_of, assert_while, choose, circuit,
    contact, contacts, drives, each, follow, high_while, low_while, on, open_while, wired_to,
};
