//! Proves, fits and writes the organ's piston port: `cargo run --bin organ_pistons`.
use std::process::ExitCode;

use gluewright_examples::organ_pistons::{OrganPistons, breaks_before_it_makes, lost_card};

fn main() -> ExitCode {
    let job = gluewright::job::<OrganPistons>(lost_card()).with_source(include_str!("../organ_pistons.rs"));
    job.assuming(breaks_before_it_makes).fitting("16V8").run()
}
