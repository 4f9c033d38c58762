//! One program for what needs only files: traces, drafts and saved fuse files.
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use gluewright_kernel::board::Library;

use super::{clustered, drafted, metered, saved, traced};

/// What needs only files.
#[derive(Debug, Parser)]
#[command(
    name = "gluewright",
    version,
    about = "Traces of old boards, first drafts of what replaces them, saved fuse files"
)]
struct Program {
    #[command(subcommand)]
    act: Act,
}

#[derive(Debug, Subcommand)]
enum Act {
    /// What is wrong with the trace of a board, and the boundary of packages that are to be replaced
    Trace(traced::Options),
    /// What the readings of a meter come to: nets, contradictions, what to measure next, and the trace
    Continuity(metered::Options),
    /// Which clusters of a board one device can replace, the most packages first
    Clusters(clustered::Options),
    /// A first draft of the replacement for a traced card, as Rust to be edited
    Draft(drafted::Options),
    /// What a saved fuse file does, and what it can stand in for
    Fuses(saved::Options),
}

/// The whole `main` of the program for what needs only files; parts come from `library`.
#[must_use]
pub fn program(library: &dyn Library) -> ExitCode {
    match Program::try_parse() {
        Ok(Program { act: Act::Trace(options) }) => traced::run(&options, library),
        Ok(Program { act: Act::Continuity(options) }) => metered::run(&options, library),
        Ok(Program { act: Act::Clusters(options) }) => clustered::run(&options, library),
        Ok(Program { act: Act::Draft(options) }) => drafted::run(&options, library),
        Ok(Program { act: Act::Fuses(options) }) => saved::run(&options, library),
        Err(e) => {
            let _ = e.print();
            ExitCode::from(if e.use_stderr() { 2 } else { 0 })
        }
    }
}
