//! Describe the replacement of a lost cluster of TTL in Rust, prove it against the traced original, and emit what the
//! device programmer and the workbench need.
#![deny(missing_docs)]

pub mod guide;
pub mod prelude;

#[cfg(feature = "analysis")]
pub use gluewright_analysis::{capture, choose, edit, hazard, loading, mend, synchronisers, timing, vectors};
#[cfg(feature = "command")]
pub use gluewright_command::job::{self, job};
#[cfg(feature = "devices")]
pub use gluewright_devices::{cover, device, drawer, emit, fit, fusefile, logic, netlist};
pub use gluewright_kernel::{board, circuit, explain, figures, machine, prove, signals, simulate, solver, terms};
#[cfg(feature = "report")]
pub use gluewright_report::{self as report, cautions};

pub use prove::{always, changes_only_while, goes_high_only_while, goes_low_only_while, never};
pub use signals::build as circuit_of;
pub use signals::{
    ActiveHigh, ActiveLow, Assertion, BuildError, Buried, Circuit, Clock, Data, Definition, Edge, InOut, Input, Latch,
    Level, Mistake, Node, OpenCollector, Output, PushPull, Register, ThreeState, Wiring, Word, all_of, any_of,
    assert_while, choose, each, follow, high_while, low_while, on, open_while,
};
