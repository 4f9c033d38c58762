//! The rules of the semantics, one by one, on boards of packages: each expected sequence stands in a data sheet or is
//! followed by hand beside its test, and what the simulator shows is then held against the prover.
mod asynchronous;
mod bench;
mod buses;
mod clocks;
mod counters;
mod inputs;
mod latch_loops;
mod latches;
mod loops;
mod races;
mod unseen;
