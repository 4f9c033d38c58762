//! Fits of circuits built by hand.
mod bench;
mod blocks;
mod hazards;
mod random;
mod refusals;
mod shapes;
mod straight;
mod v8;
