//! Whole circuits, written as a user writes them, fitted into devices.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail as tests do")]
mod equations;
mod sample_card;
mod wiring;
