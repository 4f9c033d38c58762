//! Proves, fits and writes the organ's address card: `cargo run --bin organ_memory`.
use std::process::ExitCode;

use gluewright_examples::organ_memory::{OrganMemory, lost_card};

fn main() -> ExitCode {
    gluewright::job::<OrganMemory>(lost_card()).fitting("16V8").run()
}
