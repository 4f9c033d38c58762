//! Proves, fits and writes the loom's bus bridge: `cargo run --bin loom_bridge`.
use std::process::ExitCode;

use gluewright_examples::loom_bridge::{LoomBridge, lost_bridge};

fn main() -> ExitCode {
    gluewright::job::<LoomBridge>(lost_bridge())
        .fitting("CPLD-32")
        .acknowledging("clash_n")
        .acknowledging("3 to_loom of the original")
        .acknowledging("3 to_loom of the replacement")
        .run()
}
