//! What a saved fuse file does, and whether it can stand in for a traced card or for another one:
//! `cargo run -p gluewright-parts --bin saved_fuses -- old.jed --device 16L8 --same-as new.jed`.
use std::process::ExitCode;

fn main() -> ExitCode {
    gluewright::job::saved_fuses(gluewright_parts::ttl())
}
