//! The program that a user's `main` calls: check the trace, prove, fit, emit, read back, prove again.
mod bench;
mod burning;
mod capture;
mod choosing;
mod emitted;
mod explained;
mod folder;
mod mending;
mod progress;
mod readback;
mod record;
mod saved;
mod seat;
mod several;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Parser;

use crate::board::{Board, Library, Severity, TraceError, compare_contacts};
use crate::cautions;
use crate::circuit::Label;
use crate::device::{self, Device};
use crate::emit;
use crate::fit::{Fitted, Wishes, fit};
use crate::fusefile;
use crate::hazard;
use crate::loading::{self, Loading};
use crate::prove::{Assumed, Claim, Failure, Proof, prove};
use crate::report::{Probing, Report, Seated};
use crate::signals::Wiring;
use crate::synchronisers::{self, Habit};
use crate::timing::{self, Budget, GradeChoice};
use crate::vectors::{self, Strength, Vectors};

use burning::Burning;
pub use readback::{Readback, WrongFuse};
pub use saved::{Saved, saved_fuses};
pub use seat::{seat, seat_all};
pub use several::{Burned, Division, Several, beside_kept};

/// What the command line offers.
#[derive(Clone, Debug, Parser)]
#[command(
    about = "Proves the replacement against the traced card, fits it into a device, writes what the device programmer \
             and the workbench need, and proves the written fuse file again",
    after_help = after_help()
)]
struct Options {
    /// The device to fit, by its generic type number, instead of the one that the job was written for; a wrong one is
    /// answered with those that are known
    #[arg(long)]
    device: Option<String>,
    /// The folder under which the circuit's own folder is written
    #[arg(long, default_value = "out")]
    out: PathBuf,
    /// Print which devices of the drawer hold the circuit, with figures, and do nothing else
    #[arg(long)]
    survey: bool,
    /// Split the circuit over as few devices as it takes, all of the type of --device
    #[arg(long, conflicts_with_all = ["survey", "keep"])]
    split: bool,
    /// Leave these packages of the original in place, and replace the rest by one device: --keep U1,U2
    #[arg(long, value_name = "PACKAGES", value_delimiter = ',', conflicts_with = "survey")]
    keep: Vec<String>,
    /// The file that lists the devices you have (CSV: maker,type,grade,package,count); without one every known type
    #[arg(long, value_name = "FILE")]
    drawer: Option<PathBuf>,
    /// Compare this file, read from the burned part, with the fuse file that was written under --out, fuse by fuse, and
    /// prove it against the card; nothing is written
    #[arg(long, value_name = "FILE", conflicts_with_all = ["survey", "split", "keep", "json"])]
    readback: Option<PathBuf>,
    /// Write fuse files without test vectors, for a device programmer that stumbles over them
    #[arg(long)]
    without_vectors: bool,
    /// Make test vectors that test levels only, for a device programmer that can't tell that a pin floats
    #[arg(long, conflicts_with = "without_vectors")]
    levels_only: bool,
    /// What the user signature of the device says, in as many characters as it has: a revision, a date, who burned it
    #[arg(long, value_name = "TEXT", conflicts_with_all = ["survey", "readback"])]
    signature: Option<String>,
    /// Check this capture of a logic analyser (value change dump, or .csv with a head like `time (ns),clk`) instead
    #[arg(long, value_name = "FILE")]
    capture: Option<PathBuf>,
    /// Which channel is on which contact: rows `channel,contact`; else channels are named like contacts
    #[arg(long, value_name = "FILE", requires = "capture")]
    channels: Option<PathBuf>,
    /// How far apart in time channels may show what happens at once, in nanoseconds
    #[arg(long, value_name = "NS", requires = "capture", default_value_t = 100)]
    skew: u32,
    /// Print the record of the proofs as JSON instead of text
    #[arg(long)]
    json: bool,
    /// If the replacement is refuted, write a page with the waveform, the causes and where to probe into this file
    #[arg(long, value_name = "FILE", conflicts_with = "survey")]
    explain: Option<PathBuf>,
}

fn after_help() -> String {
    format!(
        "Exit status: 0 proved and written, 1 refuted or undecided, 2 wrong use or bad input.\n\n\
         Before a burned device goes into a board:\n{}",
        cautions::text("  - ")
    )
}

/// A job: one circuit, one traced card.
#[derive(Debug)]
pub struct Job<C> {
    card: Result<Board, TraceError>,
    claim: Claim<C>,
    wishes: Wishes,
    device: String,
    budget: Budget,
    in_step: Vec<(Label, Label)>,
    testing: Option<Strength>,
    parts: mending::Parts,
}

/// The job for the circuit `C` and the card that it replaces; `run` is a user's whole `main`.
pub fn job<C: Wiring>(card: Result<Board, TraceError>) -> Job<C> {
    Job {
        card,
        claim: prove::<C>(),
        wishes: Wishes::none(),
        device: "22V10".to_owned(),
        budget: Budget::as_original(),
        in_step: Vec::new(),
        testing: Some(Strength::default()),
        parts: mending::Parts::default(),
    }
}

/// Everything that a finished job has.
#[derive(Debug)]
pub struct Done {
    /// The folder that was written.
    pub folder: PathBuf,
    /// The names of the files in it.
    pub files: Vec<String>,
    /// The proof of the source.
    pub source: Proof,
    /// The proof of the fuses that were read back, or of the Verilog file for a device without a fuse map.
    pub fuses: Proof,
    /// What that proof is of: `fuse file` or `Verilog file`.
    pub proved_from: &'static str,
    /// The fit.
    pub fitted: Fitted,
    /// The fuse checksum of the written file, if there are fuses.
    pub checksum: Option<u16>,
    /// The test vectors, if there is a fuse file and any are wanted.
    pub vectors: Option<Vectors>,
    /// The times at the contacts beside the original's, for every speed grade of the device.
    pub times: GradeChoice,
    /// The currents at the contacts beside the original's.
    pub currents: Loading,
    /// The contacts that registers sample, beside the original's habit.
    pub sampled: Vec<Habit>,
    /// What the trace, the contacts and the fuse file give to think about, though nothing stands in the way.
    pub findings: Vec<String>,
}

/// Why a job did not finish.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// The trace has errors.
    #[error("{0}")]
    Trace(#[from] TraceError),
    /// Contacts of the card and the circuit don't match.
    #[error("the contacts of the card and of the replacement don't match:\n{0}")]
    Contacts(String),
    /// Not proved, before or after the fit.
    #[error("{what}{failure}")]
    Proof {
        /// What was to be proved, if it was not the source.
        what: &'static str,
        /// Why it was not.
        failure: Failure,
    },
    /// No such device.
    #[error("there is no device `{0}` here: choose one of {1}")]
    NoDevice(String, String),
    /// It does not fit.
    #[error("does not fit a {device}: {reason}\n--survey lists the devices that hold it, and what else there is")]
    NoFit {
        /// The device.
        device: String,
        /// The first reason.
        reason: Box<crate::fit::NoFit>,
    },
    /// The device refuses the plan, or its fuses.
    #[error("{0}")]
    Device(#[from] device::DeviceError),
    /// The written fuse file can't be read back.
    #[error("a fuse file can't be read: {0}")]
    FuseFile(#[from] fusefile::FuseFileError),
    /// The written device could lose a level that it is to keep.
    #[error("the device that would be written is not steady:\n{0}")]
    Hazard(String),
    /// The written netlist can't be read back.
    #[error("the Verilog file that was made can't be read back: {0}")]
    Netlist(#[from] crate::netlist::NetlistError),
    /// It does not split over several devices.
    #[error("{0}")]
    NoSplit(#[from] crate::choose::NoSplit),
    /// The packages that are to stay can't.
    #[error("{0}")]
    Keep(#[from] crate::board::KeepError),
    /// The drawer file can't be used.
    #[error("{0}")]
    Drawer(#[from] crate::drawer::DrawerError),
    /// The circuit can't be built.
    #[error("{0}")]
    Circuit(#[from] crate::signals::BuildError),
    /// The wiring list can't be put into rows.
    #[error("the wiring list: {0}")]
    Wiring(#[from] csv::Error),
    /// A file can't be read.
    #[error("can't read {path}: {error}")]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: std::io::Error,
    },
    /// The number of fuses doesn't say which device a file is for.
    #[error(
        "{file} has {fuses} fuses, {}",
        if devices.is_empty() { "as no device that is known here".to_owned() } else { format!("as several devices have: name one of {devices}") }
    )]
    WhichDevice {
        /// The file.
        file: String,
        /// How many fuses it has.
        fuses: usize,
        /// The devices that have as many.
        devices: String,
    },
    /// The written fuse file isn't that of the source.
    #[error(
        "{written} was written from another source than this one: write it again, or go back to the source that the part was burned from"
    )]
    Stale {
        /// The file.
        written: PathBuf,
    },
    /// A file can't be written.
    #[error("can't write {path}: {error}; nothing was changed")]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        error: std::io::Error,
    },
}

impl JobError {
    /// 1 for a verdict, 2 for anything that is wrong with the input.
    pub fn status(&self) -> u8 {
        match self {
            JobError::Proof {
                failure: Failure::Refuted(_) | Failure::Undecided(_) | Failure::Withheld(_) | Failure::InPart(_),
                ..
            } => 1,
            _ => 2,
        }
    }
}

impl<C: Wiring> Job<C> {
    /// Under this assumption about the board; see [`Claim::assuming`].
    #[must_use]
    pub fn assuming(mut self, assumed: impl Fn(&C) -> Assumed + 'static) -> Self {
        self.claim = self.claim.assuming(assumed);
        self
    }

    /// With these times that the board can bear, where they differ from what the original needed.
    #[must_use]
    pub fn with_budget(mut self, budget: Budget) -> Self {
        self.budget = budget;
        self
    }

    /// These contacts keep their setup and hold times around this clock: a register that samples one on it needs no second
    /// stage.
    #[must_use]
    pub fn in_step<L: Into<Label>>(mut self, clock: impl Into<Label>, contacts: impl IntoIterator<Item = L>) -> Self {
        let clock = clock.into();
        self.in_step.extend(contacts.into_iter().map(|contact| (contact.into(), clock.clone())));
        self
    }

    /// Knowing what settling hides at this net, register or contact; see [`Claim::acknowledging`].
    #[must_use]
    pub fn acknowledging(mut self, name: impl Into<String>) -> Self {
        self.claim = self.claim.acknowledging(name);
        self
    }

    /// With these wishes for the fit.
    #[must_use]
    pub fn wishing(mut self, wishes: Wishes) -> Self {
        self.wishes = wishes;
        self
    }

    /// Fits this device if the command line names none; without this, a 22V10.
    #[must_use]
    pub fn fitting(mut self, device: impl Into<String>) -> Self {
        self.device = device.into();
        self
    }

    /// With test vectors for a tester of this strength; `None`: without. Without this, for one that sees floating pins.
    #[must_use]
    pub fn testing(mut self, strength: Option<Strength>) -> Self {
        self.testing = strength;
        self
    }

    /// With the parts of this library to try in the place of those of the trace, when a refutation asks for a mend.
    #[must_use]
    pub fn with_parts(mut self, parts: &'static dyn Library) -> Self {
        self.parts = mending::Parts(Some(parts));
        self
    }

    /// Reads the command line, does everything, prints what happened.
    #[must_use]
    pub fn run(mut self) -> ExitCode {
        let options = match Options::try_parse() {
            Ok(options) => options,
            Err(e) => {
                // clap prints help to standard output and mistakes to standard error, and knows their status
                let _ = e.print();
                return ExitCode::from(if e.use_stderr() { 2 } else { 0 });
            }
        };
        if options.without_vectors {
            self.testing = None;
        } else if options.levels_only {
            self.testing = Some(Strength::Levels);
        }
        if let Some(text) = &options.signature {
            self.wishes = self.wishes.signature(text.as_str());
        }
        if let Some(file) = &options.readback {
            let device = options.device.clone().unwrap_or_else(|| self.device.clone());
            return match self.read_back(&device, &options.out, file) {
                Ok(readback) => {
                    println!("{readback}");
                    ExitCode::from(if readback.is_good() { 0 } else { 1 })
                }
                Err(e) => {
                    eprintln!("{e}");
                    ExitCode::from(e.status())
                }
            };
        }
        if options.survey {
            return self.print_survey(&options);
        }
        if let Some(file) = &options.capture {
            let listed = options.channels.as_deref();
            return capture::run(self, file, listed, std::time::Duration::from_nanos(options.skew.into()));
        }
        let (card, parts) = (self.card.as_ref().ok().cloned(), self.parts);
        let device = options.device.clone().unwrap_or_else(|| self.device.clone());
        let written = if options.split || !options.keep.is_empty() {
            let done = self.several(&options, &device);
            done.map(|d| if options.json { record::several(&d) } else { record::several_text(&d) })
        } else {
            let done = self.act(&device, &options.out);
            done.map(|d| if options.json { record::proof(&d) } else { record::text(&d) })
        };
        match written {
            Ok(text) => {
                print!("{text}");
                ExitCode::SUCCESS
            }
            Err(e) => {
                if options.json {
                    print!("{}", record::failure(C::NAME, &e));
                }
                eprintln!("{e}");
                let findings = card.as_ref().map_or(&[][..], Board::findings);
                if matches!(e, JobError::Proof { .. } | JobError::Contacts(_)) && !findings.is_empty() {
                    eprintln!("The trace itself leaves open, and the mistake may lie there:");
                    findings.iter().for_each(|f| eprintln!("  {f}"));
                }
                let mends = mending::print(&e, card.as_ref(), parts);
                eprintln!("Nothing was written.");
                let earlier = options.out.join(C::NAME);
                if earlier.exists() {
                    let earlier = earlier.display();
                    match e {
                        JobError::Proof { .. } => {
                            eprintln!("{earlier} still holds an EARLIER result, not this source: don't burn it.");
                        }
                        _ => eprintln!("{earlier} still holds the result of an earlier run."),
                    }
                }
                if let Some(file) = &options.explain {
                    explained::write(file, &e, mends.as_deref());
                }
                ExitCode::from(e.status())
            }
        }
    }

    /// The same without a command line: fits `device`, writes under `out`.
    ///
    /// # Errors
    /// The first thing that stands in the way; nothing is written then.
    pub fn act(self, device: &str, out: &Path) -> Result<Done, JobError> {
        let device = find_device(device)?;
        let board = self.card?;
        let findings: Vec<_> = board.findings().to_vec();
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { what: "", failure })?;
        let question = progress::shown(question);
        let original = board.circuit()?;
        let differences = compare_contacts(&original, &replacement);
        if differences.iter().any(|f| f.severity == Severity::Error) {
            let all: Vec<_> = differences.iter().map(ToString::to_string).collect();
            return Err(JobError::Contacts(all.join("\n")));
        }
        let source = question.ask().map_err(|failure| JobError::Proof { what: "", failure })?;
        let fitted = fit(&replacement, device, &self.wishes)
            .map_err(|reason| JobError::NoFit { device: device.name.to_owned(), reason: Box::new(reason) })?;
        let burning = Burning { testing: self.testing, source: Some(&source) };
        let emitted = emitted::emitted(&fitted, device, burning)?;
        let seated = seat(&emitted.circuit, &fitted, &replacement);
        let what = match emitted.checksum {
            Some(_) => "From the fuses that would be written: ",
            None => "From the Verilog file that would be written: ",
        };
        let probing = Probing::new(&question, &seated);
        let fuses = question.about(seated).ask().map_err(|failure| JobError::Proof { what, failure })?;
        let times = timing::choose_grade(&timing::original(&board), &fitted, device, &self.budget);
        let grade = times.best().and_then(|best| device.grades.iter().find(|g| g.name == best.name));
        let currents = loading::loading(&board, &fitted, device, grade);
        let sampled = synchronisers::beside(
            &synchronisers::sampled(&original, &self.in_step),
            &synchronisers::sampled(&replacement, &self.in_step),
        );
        let file = emitted.file;
        let mut files = emitted.files;
        files.extend([
            ("equations.txt".to_owned(), emit::equations(&fitted).into_bytes()),
            ("wiring.csv".to_owned(), emit::wiring(std::slice::from_ref(&fitted), original.supplies())?.into_bytes()),
            ("timing.csv".to_owned(), bench::times_csv(&times)?),
        ]);
        let mut notes: Vec<String> = findings.iter().chain(&differences).map(ToString::to_string).collect();
        notes.extend(emitted.remarks);
        notes.extend(emitted::of_original(&original));
        let mut done = Done {
            folder: out.join(&replacement.name),
            files: Vec::new(),
            source,
            fuses,
            fitted,
            checksum: emitted.checksum,
            proved_from: emitted.what,
            vectors: emitted.vectors,
            times,
            currents,
            sampled,
            findings: notes,
        };
        files.push(("proof.json".to_owned(), record::proof(&done).into_bytes()));
        files.push(("proof.smt2".to_owned(), done.fuses.smt2().into_bytes()));
        files.sort();
        let (shaky, theirs) = (hazard::of_device(&done.fitted), hazard::of_original(&original).ok());
        let told = [Some(&shaky), theirs.as_ref()].into_iter().flatten();
        let in_chapter: Vec<String> =
            told.flat_map(|h| h.list.iter().map(ToString::to_string).chain(h.left_out.iter().cloned())).collect();
        let others: Vec<String> = done.findings.iter().filter(|f| !in_chapter.contains(f)).cloned().collect();
        let seated = Seated { reference: "U1", fitted: &done.fitted, device, file: &file, checksum: done.checksum };
        let mut chapters = vec![
            hazard::chapter(&shaky, theirs.as_ref()),
            timing::chapter(&done.times),
            loading::chapter(&done.currents),
            synchronisers::chapter(&done.sampled),
        ];
        chapters.extend(done.vectors.as_ref().map(vectors::chapter));
        let page = Report {
            name: &replacement.name,
            board: &board,
            original: &original,
            devices: &[seated],
            kept: &[],
            kept_pins: &[],
            source: Some(&done.source),
            fuses: &done.fuses,
            probing: &probing,
            findings: &others,
            chapters: &chapters,
            files: &files,
            date: None,
        };
        files.push(("report.html".to_owned(), page.html().into_bytes()));
        folder::write(&done.folder, &files).map_err(|(path, error)| JobError::Write { path, error })?;
        done.files = files.into_iter().map(|(name, _)| name).collect();
        Ok(done)
    }
}

fn find_device(name: &str) -> Result<&'static Device, JobError> {
    device::find(name).ok_or_else(|| {
        let known: Vec<_> = device::all().iter().map(|d| d.name).collect();
        JobError::NoDevice(name.to_owned(), known.join(", "))
    })
}
