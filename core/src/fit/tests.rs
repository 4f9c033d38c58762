//! Fits of circuits built by hand.
