//! The device in a tester's socket: what its fuses make of it, how it answers a vector, and what a vector may ask.
pub(super) mod array;
pub(super) mod bank;
pub(super) mod rules;
pub(super) mod settle;
pub(super) mod ternary;
