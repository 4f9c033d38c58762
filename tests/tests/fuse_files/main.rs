//! Fuse files as a programmer's software and a tester see them: read by a reader of their own, run on chips by hand.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
mod chip;
mod lifted;
mod plans;
mod published;
mod reader;
mod rereading;
mod same;
mod saved;
mod vectors;
