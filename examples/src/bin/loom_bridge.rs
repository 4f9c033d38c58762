//! Proves, fits and writes the loom's bus bridge: `cargo run --bin loom_bridge`.
use std::process::ExitCode;

use gluewright_examples::loom_bridge::{LoomBridge, lost_bridge};

fn main() -> ExitCode {
    gluewright::job::<LoomBridge>(lost_bridge())
        .with_source(include_str!("../loom_bridge.rs"))
        .fitting("CPLD-32")
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
        .run()
}
