//! The job's other face: a capture beside the traced card and the replacement.
use std::fs::{self, File};
use std::io::{BufReader, IsTerminal};
use std::path::Path;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;

use super::Job;
use super::options::Options;
use super::record::NotDone;
use super::voice::Voice;
use gluewright_analysis::capture::{self, CaptureError, Channels, Finding, Observed};
use gluewright_kernel::circuit::{Circuit, Origin};
use gluewright_kernel::signals::Wiring;

/// The longest search for a fault.
const WITHIN: Duration = Duration::from_secs(120);

/// Checks a capture and says what it says: 0 if the original explains it, 1 if not, 2 for bad input.
pub(super) fn run<C: Wiring>(job: Job<C>, file: &Path, options: &Options, voice: &mut Voice) -> u8 {
    match check(job, file, options, voice) {
        Ok(checked) => {
            voice.document(&checked);
            u8::from(checked.verdict != EXPLAINED)
        }
        Err(why) => {
            voice.aside(&why);
            voice.document(&NotDone::unasked(C::NAME, why));
            2
        }
    }
}

const EXPLAINED: &str = "explained";

/// What a capture says, as a record.
#[derive(Serialize)]
struct Checked {
    circuit: &'static str,
    capture: String,
    verdict: &'static str,
    changes: usize,
    shows: String,
    /// What never moved, and what was never compared.
    #[serde(skip_serializing_if = "String::is_empty")]
    exercise: String,
    /// A larger skew with which the original explains it.
    #[serde(skip_serializing_if = "Option::is_none")]
    explained_with_skew_ns: Option<u64>,
    original: String,
    replacement: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    faults: Option<FaultsFound>,
    gluewright: &'static str,
}

#[derive(Serialize)]
struct FaultsFound {
    found: Vec<String>,
    tried: usize,
    all_tried: bool,
}

fn check<C: Wiring>(job: Job<C>, file: &Path, options: &Options, voice: &mut Voice) -> Result<Checked, String> {
    let board = job.card.map_err(|e| e.to_string())?;
    let original = board.circuit().map_err(|e| e.to_string())?;
    let (replacement, question) = job.claim.question(&board).map_err(|e| e.to_string())?;
    let channels = match options.channels.as_deref() {
        None => Channels::by_name(),
        Some(path) => {
            let content = fs::read(path).map_err(|e| format!("can't read {}: {e}", path.display()))?;
            Channels::from_csv(&path.display().to_string(), content).map_err(|e| e.to_string())?
        }
    };
    let skew = Duration::from_nanos(options.skew.into());
    let observed = read(file, &channels, [&original, &replacement], skew)?.in_time(question.original_in_time());
    let told = |what: &'static str| {
        let progress = bar(1000, what);
        let bar = progress.clone();
        (progress, move |done: f64| bar.set_position((done * 1000.0) as u64))
    };
    let words = |e: CaptureError| e.to_string();
    let (progress, report) = told("original");
    let checked = observed.original_exercised(report);
    progress.finish_and_clear();
    let exercise = checked.as_ref().map(|(_, exercise)| exercise.clone()).unwrap_or_default();
    let shows = observed.shows().but(&exercise).to_string();
    voice.text(format_args!("{}: {} changes at the contacts.\n{shows}", file.display(), observed.changes()));
    let (finding, _) = checked.map_err(words)?;
    let explained = matches!(finding, Finding::Explained { .. });
    let of_original = format!("The original `{}` {finding}.", original.name);
    voice.text(format_args!("{of_original}\n"));
    let exercise = exercise.to_string();
    voice.text(&exercise);
    let (progress, report) = told("replacement");
    let finding = observed.replacement(report);
    progress.finish_and_clear();
    let of_replacement = format!("The replacement `{}` {}.", replacement.name, finding.map_err(words)?);
    voice.text(format_args!("{of_replacement}\n"));
    let skew_ns =
        if explained { None } else { observed.explained_with().and_then(|skew| u64::try_from(skew.as_nanos()).ok()) };
    if let Some(ns) = skew_ns {
        voice.text(format_args!(
            "With --skew {ns} the original explains all of it: if the analyser's channels, or slow parts, can lie that far apart, \
             nothing is broken; if not, something is late.\n"
        ));
    }
    let faults = (!explained).then(|| {
        let progress = counter("faults tried");
        let tell = |tried| progress.set_position(tried as u64);
        let faults = observed.faults_told(Some(&board), WITHIN, tell);
        progress.finish_and_clear();
        voice.text(&faults);
        let found = faults.found.iter().map(|fault| match &fault.origin {
            Origin::Nowhere => fault.words.clone(),
            origin => format!("{} ({origin})", fault.words),
        });
        FaultsFound { found: found.collect(), tried: faults.tried, all_tried: !faults.cut_short }
    });
    Ok(Checked {
        circuit: C::NAME,
        capture: file.display().to_string(),
        verdict: if explained { EXPLAINED } else { "not explained" },
        changes: observed.changes(),
        shows,
        exercise,
        explained_with_skew_ns: skew_ns,
        original: of_original,
        replacement: of_replacement,
        faults,
        gluewright: env!("CARGO_PKG_VERSION"),
    })
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
