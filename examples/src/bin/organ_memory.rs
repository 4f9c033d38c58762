//! Proves, fits and writes the organ's address card: `cargo run --bin organ_memory`.
use std::process::ExitCode;

use gluewright_examples::organ_memory::{OrganMemory, lost_card};

fn main() -> ExitCode {
    let job = gluewright::job::<OrganMemory>(lost_card()).with_source(include_str!("../organ_memory.rs"));
    job.fitting("16V8").run()
}
