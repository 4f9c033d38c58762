//! Devices from outside: fuse maps made by hand from the numbers of the tables, read back by evaluating the circuit.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
mod bipolar;
mod blocks;
mod by_hand;
mod d22v10;
mod evaluator;
mod figures;
mod property;
mod v8;
