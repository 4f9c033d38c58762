//! Readings of a meter on a borrowed board: what they come to, what to measure next, and the trace.
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::Parser;
use gluewright_analysis::capture::{Channels, SKEW};
use gluewright_analysis::continuity::{Parts, Readings, Study, study};
use gluewright_kernel::board::Library;
use serde::Serialize;

use super::traced::content;
use super::voice::Voice;
use super::{JobError, whole};

/// What the command line for readings offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Makes nets of a meter's readings, says which of them contradict each other and what to measure next, and writes \
             the trace once all is settled",
    after_help = "Exit status: 0 settled; 1 not settled yet, or readings contradict each other; 2 wrong use or bad input."
)]
pub(super) struct Options {
    /// The readings in the order in which they were made: CSV with the columns from, to and ohms
    file: PathBuf,
    /// What sits on the board, in the order in which one walks over it: CSV with the columns ref, part and pins
    #[arg(long, value_name = "FILE")]
    parts: Option<PathBuf>,
    /// Write the trace into this file once all is settled
    #[arg(long, value_name = "FILE")]
    trace: Option<PathBuf>,
    /// Write it before that too, with `untraced` for what is not settled
    #[arg(long, requires = "trace")]
    unfinished: bool,
    /// Narrow unknown packages by what a logic analyser saw on the nets around them: a value change dump, or a table in CSV;
    /// as often as there are captures
    #[arg(long, value_name = "FILE")]
    capture: Vec<PathBuf>,
    /// Which channel is on which net: CSV with the rows channel,net; else a channel is named like its net or a pin on it
    #[arg(long, value_name = "FILE", requires = "capture")]
    channels: Option<PathBuf>,
    /// How far apart in time channels may show what happens at once, in ns
    #[arg(long, value_name = "NS", default_value_t = SKEW.as_nanos() as u64, requires = "capture")]
    skew: u64,
    /// Print one JSON document instead of text, and nothing on standard error
    #[arg(long)]
    json: bool,
}

/// What a program is told.
#[derive(Serialize)]
struct Record<'r> {
    settled: bool,
    continuity: &'r Study,
    #[serde(skip_serializing_if = "Option::is_none")]
    written: Option<String>,
    gluewright: &'static str,
}

pub(super) fn run(options: &Options, library: &dyn Library) -> ExitCode {
    let mut voice = Voice::new(options.json);
    let status = act(options, library, &mut voice).unwrap_or_else(|e| {
        voice.aside(&e);
        voice.document(&serde_json::json!({ "error": e.to_string() }));
        e.status()
    });
    voice.ends(status)
}

fn act(options: &Options, library: &dyn Library, voice: &mut Voice) -> Result<u8, JobError> {
    let parts = match &options.parts {
        Some(path) => Parts::from_csv(&path.display().to_string(), content(path)?, library)?,
        None => Parts::none(),
    };
    let readings = Readings::from_csv(&options.file.display().to_string(), content(&options.file)?, parts)?;
    let mut study = study(&readings, library);
    let channels = match &options.channels {
        Some(path) => Channels::from_csv(&path.display().to_string(), content(path)?)?,
        None => Channels::by_name(),
    };
    for path in &options.capture {
        let (name, skew) = (path.display().to_string(), Duration::from_nanos(options.skew));
        study.narrowed_by(&name, &*content(path)?, &channels, skew, library)?;
    }
    let settled = study.is_settled();
    let target = options.trace.as_ref().filter(|_| settled || options.unfinished);
    if let Some(target) = target {
        if target.exists() {
            return Err(JobError::TraceExists(target.clone()));
        }
        whole::beside(target, study.trace())?.place()?;
    }
    let mut said = study.to_string();
    match (&options.trace, target) {
        (_, Some(target)) => said.push_str(&format!("{}: written\n", target.display())),
        (Some(_), None) => {
            said.push_str("no trace is written before all is settled; --unfinished writes what there is\n")
        }
        (None, None) => {}
    }
    let written = target.map(|target| target.display().to_string());
    voice.result(said, &Record { settled, continuity: &study, written, gluewright: env!("CARGO_PKG_VERSION") });
    Ok(u8::from(!settled))
}
