//! Fits of circuits built by hand.
mod bench;
mod random;
mod refusals;
mod shapes;
mod v8;
