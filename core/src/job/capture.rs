//! The job's other face: a capture beside the traced card and the replacement.
use std::fs::{self, File};
use std::io::{BufReader, IsTerminal};
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use super::Job;
use crate::capture::{self, CaptureError, Channels, Finding, Observed};
use crate::circuit::Circuit;
use crate::signals::Wiring;

/// The longest search for a fault.
const WITHIN: Duration = Duration::from_secs(120);

/// Checks a capture and prints what it says: 0 if the original explains it, 1 if not, 2 for bad input.
pub(super) fn run<C: Wiring>(job: Job<C>, file: &Path, channels: Option<&Path>, skew: Duration) -> ExitCode {
    match check(job, file, channels, skew) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(why) => {
            eprintln!("{why}");
            ExitCode::from(2)
        }
    }
}

fn check<C: Wiring>(job: Job<C>, file: &Path, channels: Option<&Path>, skew: Duration) -> Result<bool, String> {
    let board = job.card.map_err(|e| e.to_string())?;
    let original = board.circuit().map_err(|e| e.to_string())?;
    let (replacement, _) = job.claim.question(&board).map_err(|e| e.to_string())?;
    let channels = match channels {
        None => Channels::by_name(),
        Some(path) => {
            let content = fs::read(path).map_err(|e| format!("can't read {}: {e}", path.display()))?;
            Channels::from_csv(&path.display().to_string(), content).map_err(|e| e.to_string())?
        }
    };
    let observed = read(file, &channels, [&original, &replacement], skew)?;
    println!("{}: {} changes at the contacts.", file.display(), observed.changes());
    print!("{}", observed.shows());
    let mut explained = None;
    for (name, what) in [(&original.name, "original"), (&replacement.name, "replacement")] {
        let progress = bar(1000, what);
        let report = |done: f64| progress.set_position((done * 1000.0) as u64);
        let finding = match what {
            "original" => observed.original(report),
            _ => observed.replacement(report),
        };
        progress.finish_and_clear();
        let finding = finding.map_err(|e: CaptureError| e.to_string())?;
        println!("The {what} `{name}` {finding}.");
        explained.get_or_insert(matches!(finding, Finding::Explained { .. }));
    }
    let explained = explained == Some(true);
    if !explained {
        let progress = counter("faults tried");
        let faults =
            observed.faults_told(Some(&board), job.parts.0, WITHIN, |tried| progress.set_position(tried as u64));
        progress.finish_and_clear();
        print!("{faults}");
    }
    Ok(explained)
}

fn read(file: &Path, channels: &Channels, circuits: [&Circuit; 2], skew: Duration) -> Result<Observed, String> {
    let unreadable = |e: std::io::Error| format!("can't read {}: {e}", file.display());
    let open = File::open(file).map_err(unreadable)?;
    let size = open.metadata().map_err(unreadable)?.len();
    let progress = bar(size, "reading");
    let content = BufReader::with_capacity(1 << 16, progress.wrap_read(open));
    let observed = capture::read(&file.display().to_string(), content, channels, circuits, skew, |_| ());
    progress.finish_and_clear();
    observed.map_err(|e| e.to_string())
}

/// A bar on a terminal; elsewhere nothing.
fn bar(length: u64, what: &'static str) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length).with_message(what);
    match ProgressStyle::with_template("{msg:12} {wide_bar} {percent:>3} %") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

/// A count on a terminal; elsewhere nothing.
fn counter(what: &'static str) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new_spinner().with_message(what);
    match ProgressStyle::with_template("{pos} {msg}") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
