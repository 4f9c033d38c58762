//! A circuit collapsed to what a macrocell holds: one function for each register, latch and output.
