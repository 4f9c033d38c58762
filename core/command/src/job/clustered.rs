//! Which clusters of a board one device can replace.
use std::fmt::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;
use gluewright_analysis::choose::{Cluster, clusters};
use gluewright_devices::drawer::Drawer;
use gluewright_devices::fit::Wishes;
use gluewright_kernel::board::Library;
use serde::Serialize;

use super::JobError;
use super::choosing::the_drawer;
use super::traced::{Given, answered, read};
use super::voice::Voice;

/// What the command line for clusters offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Ranks the clusters of a board's packages that one device can replace",
    after_help = "Exit status: 0 read; 2 the trace has errors, wrong use or bad input."
)]
pub(super) struct Options {
    #[command(flatten)]
    given: Given,
    /// The devices that you have: CSV with the head maker,type,grade,count
    #[arg(long, value_name = "FILE")]
    drawer: Option<PathBuf>,
    /// Print one JSON document instead of text, and nothing on standard error
    #[arg(long)]
    json: bool,
}

/// What a program is told.
#[derive(Serialize)]
struct Record<'r> {
    trace: &'r str,
    clusters: &'r [Cluster],
    gluewright: &'static str,
}

pub(super) fn run(options: &Options, library: &dyn Library) -> ExitCode {
    answered(options.json, |voice| act(options, library, voice))
}

fn act(options: &Options, library: &dyn Library, voice: &mut Voice) -> Result<(), JobError> {
    let name = options.given.file.display().to_string();
    let board = read(&options.given, &name, library)?;
    let drawer = match &options.drawer {
        Some(path) => the_drawer(path, voice)?,
        None => Drawer::generic(),
    };
    let found = clusters(&board, &drawer, &Wishes::none());
    let mut said = String::new();
    for (i, cluster) in found.iter().enumerate() {
        let _ = writeln!(said, "{:2}  {cluster}", i + 1);
    }
    if found.is_empty() {
        said.push_str("no two packages of this board fit into one device of the drawer\n");
    } else {
        let first: Vec<&str> = found.iter().take(1).flat_map(|c| &c.packages).map(|p| p.0.as_str()).collect();
        let options =
            [(options.given.others_stay, " --others-stay"), (options.given.printed_supplies, " --printed-supplies")];
        let options: String = options.iter().filter(|o| o.0).map(|o| o.1).collect();
        let _ = writeln!(said, "next: gluewright draft {name}{options} --replace {}", first.join(","));
    }
    voice.result(said, &Record { trace: &name, clusters: &found, gluewright: env!("CARGO_PKG_VERSION") });
    Ok(())
}
