//! What the typed surface means: each rule of a wiring, seen in the circuit that comes of it.
#![allow(clippy::panic, clippy::unwrap_used)]

mod evaluate;
mod mistakes;
mod names;
mod parts;
mod rules;
mod sample_card;
mod words;
