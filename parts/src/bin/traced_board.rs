//! What is wrong with the trace of a board, and what the boundary of some of its packages is:
//! `cargo run -p gluewright-parts --bin traced_board -- board.csv --others-stay --printed-supplies --replace U11,U12`.
use std::process::ExitCode;

fn main() -> ExitCode {
    gluewright::job::traced_board(gluewright_parts::ttl())
}
