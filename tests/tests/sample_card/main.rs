//! The sample card as a whole: what its source becomes as a circuit, in a device, as equations and as a wiring list.
// formulas stand as a schematic has them, not as short as they can be
#![allow(clippy::nonminimal_bool)]
mod equations;
#[path = "../../../core/tests/signals/evaluate.rs"]
mod evaluate;
mod fitted;
#[allow(dead_code, reason = "a source of an example, with its test")]
#[path = "../../../examples/src/sample_card.rs"]
mod source;
mod wiring;
mod written;
