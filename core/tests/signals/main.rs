//! What the typed surface means: each rule of a wiring, seen in the circuit that comes of it.
// formulas stand as a schematic has them, not as short as they can be
#![allow(clippy::panic, clippy::unwrap_used, clippy::nonminimal_bool)]

mod evaluate;
mod mistakes;
mod names;
mod parts;
mod rules;
mod words;
