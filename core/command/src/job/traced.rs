//! The trace of a whole board: what was found in it, and what a cluster of its packages has to do.
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Parser, ValueEnum};
use gluewright_kernel::board::{Board, Finding, Library, PartsList, Reading, Remainder, Severity, TraceError};
use gluewright_kernel::circuit::Direction;
use serde::Serialize;

use super::JobError;
use super::readback::counted;
use super::voice::Voice;

/// What the command line for traces offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Reads the trace of a board, says what is wrong with it, and shows the boundary of packages that are to be replaced",
    after_help = "Exit status: 0 read; 2 the trace has errors, wrong use or bad input."
)]
pub(super) struct Options {
    #[command(flatten)]
    given: Given,
    /// Print one JSON document instead of text, and nothing on standard error
    #[arg(long)]
    json: bool,
}

/// A trace, and how it is read.
#[derive(Clone, Debug, Args)]
pub(super) struct Given {
    /// The trace: CSV with the columns ref, part, pin and net, or a netlist
    pub(super) file: PathBuf,
    /// The format, if the ending of the file's name doesn't say it: .csv, .ipc .356 .d356 (IPC-D-356A), .edn .edif .edf
    #[arg(long)]
    format: Option<Format>,
    /// The list of parts beside a netlist: CSV with references and types
    #[arg(long, value_name = "FILE")]
    parts: Option<PathBuf>,
    /// The list of types that stay on the board, one a line: their pins are the outside
    #[arg(long, value_name = "FILE")]
    stays: Option<PathBuf>,
    /// Everything that is no logic of the library stays; what is one character from a known type remains an error
    #[arg(long)]
    pub(super) others_stay: bool,
    /// Supply pins without a row are where the data sheets print them: for schematics, which hide them
    #[arg(long)]
    pub(super) printed_supplies: bool,
    /// A file of house numbers and the types that they stand for: rows like 1820-1112,74LS74
    #[arg(long, value_name = "FILE")]
    house_numbers: Option<PathBuf>,
    /// The packages to replace: U11,U12; everything else stays, and the boundary is found
    #[arg(long, value_name = "PACKAGES", value_delimiter = ',')]
    pub(super) replace: Vec<String>,
}

impl Given {
    /// Whether it is CSV that needs nothing but the file.
    pub(super) fn is_plain_csv(&self) -> bool {
        self.of_format() == Format::Csv && self.stays.is_none() && self.house_numbers.is_none()
    }

    fn of_format(&self) -> Format {
        let ending = self.file.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
        self.format.unwrap_or(match ending.as_str() {
            "ipc" | "356" | "d356" => Format::Ipc,
            "edn" | "edif" | "edf" => Format::Edif,
            _ => Format::Csv,
        })
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    Csv,
    Ipc,
    Edif,
}

/// What a program is told.
#[derive(Serialize)]
struct Record<'r> {
    trace: &'r str,
    /// None is said of a trace with errors.
    #[serde(skip_serializing_if = "Option::is_none")]
    packages: Option<usize>,
    findings: &'r [Finding],
    #[serde(skip_serializing_if = "Option::is_none")]
    boundary: Option<Vec<At>>,
    gluewright: &'static str,
}

/// A contact of the boundary.
#[derive(Serialize)]
struct At {
    contact: String,
    net: String,
    direction: &'static str,
}

pub(super) fn run(options: &Options, library: &dyn Library) -> ExitCode {
    answered(options.json, |voice| act(&options.given, library, voice))
}

/// Does something with a trace and says how it went, findings of the trace first.
pub(super) fn answered(json: bool, act: impl FnOnce(&mut Voice) -> Result<(), JobError>) -> ExitCode {
    let mut voice = Voice::new(json);
    let status = match act(&mut voice) {
        Ok(()) => 0,
        Err(JobError::Trace(error)) => unsound(&error, &mut voice),
        Err(e) => {
            voice.aside(&e);
            voice.document(&serde_json::json!({ "error": e.to_string() }));
            e.status()
        }
    };
    voice.ends(status)
}

/// Tells what is wrong with a trace.
fn unsound(error: &TraceError, voice: &mut Voice) -> u8 {
    let TraceError { trace, findings, .. } = error;
    voice.result(text(trace, findings), &record(trace, None, findings, None));
    2
}

fn act(options: &Given, library: &dyn Library, voice: &mut Voice) -> Result<(), JobError> {
    let name = options.file.display().to_string();
    let board = read(options, &name, library)?;
    let cluster = match options.replace.is_empty() {
        true => None,
        false => Some(board.replacing(&options.replace)?),
    };
    let mut said = text(&name, board.findings());
    if let Some(cluster) = &cluster {
        let _ = writeln!(said, "{}:", cluster.rest.name);
        for at in boundary(cluster) {
            let _ = writeln!(said, "  contact {:8} {:8} {}", at.contact, at.direction, at.net);
        }
    }
    let packages = board.chips().count();
    voice.result(said, &record(&name, Some(packages), board.findings(), cluster.as_ref().map(boundary)));
    Ok(())
}

pub(super) fn read(options: &Given, name: &str, library: &dyn Library) -> Result<Board, JobError> {
    let mut reading = Reading::new();
    if let Some(path) = &options.stays {
        reading = reading.staying_list(&path.display().to_string(), content(path)?)?;
    }
    if let Some(path) = &options.house_numbers {
        reading = reading.house_numbers(&path.display().to_string(), content(path)?)?;
    }
    if options.others_stay {
        reading = reading.others_stay();
    }
    if options.printed_supplies {
        reading = reading.printed_supplies();
    }
    let listed = options.parts.as_ref().map(|path| Ok::<_, JobError>((path.display().to_string(), content(path)?)));
    let listed = listed.transpose()?;
    let parts = listed.as_ref().map(|(file, content)| PartsList { file, content });
    let trace = content(&options.file)?;
    Ok(match (options.of_format(), parts) {
        (Format::Csv, _) => reading.csv(name, trace, library)?,
        (Format::Ipc, Some(parts)) => reading.ipc_d_356a(name, trace, parts, library)?,
        (Format::Ipc, None) => return Err(JobError::PartsList(name.to_owned())),
        (Format::Edif, parts) => reading.edif(name, trace, parts, library)?,
    })
}

pub(super) fn content(path: &Path) -> Result<Vec<u8>, JobError> {
    std::fs::read(path).map_err(|error| JobError::Read { path: path.to_owned(), error })
}

fn text(name: &str, findings: &[Finding]) -> String {
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    let mut said = String::new();
    for finding in findings {
        let _ = writeln!(said, "{finding}");
    }
    let (errors, warnings, notes) = (count(Severity::Error), count(Severity::Warning), count(Severity::Note));
    let all = [(errors, "error", "errors"), (warnings, "warning", "warnings"), (notes, "note", "notes")];
    let all = all.map(|(n, one, more)| counted(n, one, more));
    let _ = writeln!(said, "{name}: {}", all.join(", "));
    said
}

fn boundary(cluster: &Remainder) -> Vec<At> {
    let at = |c: &gluewright_kernel::circuit::Contact| At {
        contact: c.label.to_string(),
        net: c.name.clone(),
        direction: match c.direction {
            Direction::Input => "read",
            Direction::Output => "driven",
            Direction::InOut => "both",
        },
    };
    cluster.rest.contacts().iter().map(at).collect()
}

fn record<'r>(
    trace: &'r str,
    packages: Option<usize>,
    findings: &'r [Finding],
    boundary: Option<Vec<At>>,
) -> Record<'r> {
    Record { trace, packages, findings, boundary, gluewright: env!("CARGO_PKG_VERSION") }
}
