//! Fits of circuits built by hand.
// a check may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
mod bench;
mod blocks;
mod hazards;
mod random;
mod refusals;
mod shapes;
mod straight;
mod v8;
