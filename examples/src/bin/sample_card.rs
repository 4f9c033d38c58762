//! Proves, fits and writes the sample card: `cargo run`.
use std::process::ExitCode;

use gluewright_examples::sample_card::{SampleCard, lost_card};

fn main() -> ExitCode {
    gluewright::job::<SampleCard>(lost_card()).with_source(include_str!("../sample_card.rs")).run()
}
