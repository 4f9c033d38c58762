//! Fits of circuits built by hand.
mod bench;
mod refusals;
mod shapes;
mod v8;
