//! Traces of old boards, first drafts of what replaces them, saved fuse files:
//! `cargo run -p gluewright-parts --bin gluewright -- draft card.csv`.
use std::process::ExitCode;

fn main() -> ExitCode {
    gluewright::job::program(gluewright_parts::ttl())
}
