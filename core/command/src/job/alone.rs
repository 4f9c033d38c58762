//! One device for the whole card: prove, fit, emit, read back, prove again, write the folder.
use std::path::{Path, PathBuf};

use super::burning::Burning;
use super::{Job, JobError, bench, choosing, emitted, folder, progress, record, seat};
use gluewright_analysis::hazard;
use gluewright_analysis::loading::{self, Loading};
use gluewright_analysis::synchronisers::{self, Habit};
use gluewright_analysis::timing::{self, GradeChoice};
use gluewright_analysis::vectors::Vectors;
use gluewright_devices::device::{self, Device};
use gluewright_devices::fit::{Fitted, fit};
use gluewright_devices::{drawer, emit};
use gluewright_kernel::board::{Board, Severity, compare_contacts};
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::prove::Proof;
use gluewright_kernel::signals::Wiring;
use gluewright_report::chapters;
use gluewright_report::{Probing, Report, Seated};

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

impl<C: Wiring> Job<C> {
    /// The same without a command line: fits `device`, writes under `out`.
    ///
    /// # Errors
    /// The first thing that stands in the way; nothing is written then.
    pub fn act(self, device: &str, out: &Path) -> Result<Done, JobError> {
        let device = find_device(device)?;
        choosing::in_stock(self.drawer.as_ref(), device)?;
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
        let burning = Burning { testing: self.testing, source: Some(&source), package: self.package.as_deref() };
        let emitted = emitted::emitted(&fitted, device, burning)?;
        let seated = seat(&emitted.circuit, &fitted, &replacement);
        let what = match emitted.checksum {
            Some(_) => "From the fuses that would be written: ",
            None => "From the Verilog file that would be written: ",
        };
        let probing = Probing::new(&question, &seated);
        let fuses = question.about(seated).ask().map_err(|failure| JobError::Proof { what, failure })?;
        let times = timing::choose_grade(&timing::original(&board), &fitted, device, &self.budget);
        let times = choosing::at_hand(self.drawer.as_ref(), &[device], times);
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
        files.push(("proof.json".to_owned(), record::document(&record::one(&done), &[]).into_bytes()));
        files.push(("proof.smt2".to_owned(), done.fuses.smt2().into_bytes()));
        files.sort();
        let page = report(&done, &On { board: &board, original: &original, device, file: &file }, &probing, &files);
        files.push(("report.html".to_owned(), page.into_bytes()));
        folder::write(&done.folder, &files).map_err(|(path, error)| JobError::Write { path, error })?;
        done.files = files.into_iter().map(|(name, _)| name).collect();
        Ok(done)
    }
}

pub(super) fn find_device(name: &str) -> Result<&'static Device, JobError> {
    device::find(name).or_else(|| drawer::printed(name)).ok_or_else(|| {
        let known: Vec<_> = device::all().iter().map(|d| d.name).collect();
        JobError::NoDevice(name.to_owned(), known.join(", "))
    })
}

/// What a report tells of besides the result.
struct On<'a> {
    board: &'a Board,
    original: &'a Circuit,
    device: &'static Device,
    file: &'a str,
}

fn report(done: &Done, on: &On, probing: &Probing, files: &[(String, Vec<u8>)]) -> String {
    let On { board, original, device, file } = *on;
    let (shaky, theirs) = (hazard::of_device(&done.fitted), hazard::of_original(original).ok());
    let told = [Some(&shaky), theirs.as_ref()].into_iter().flatten();
    let in_chapter: Vec<String> =
        told.flat_map(|h| h.list.iter().map(ToString::to_string).chain(h.left_out.iter().cloned())).collect();
    let others: Vec<String> = done.findings.iter().filter(|f| !in_chapter.contains(f)).cloned().collect();
    let seated = Seated { reference: "D1", fitted: &done.fitted, device, file, checksum: done.checksum };
    let mut chapters = vec![
        chapters::hazards(&shaky, theirs.as_ref()),
        chapters::times(&done.times),
        chapters::currents(&done.currents),
        chapters::sampled(&done.sampled),
    ];
    chapters.extend(done.vectors.as_ref().map(chapters::vectors));
    Report {
        name: &done.fitted.circuit,
        board,
        original,
        devices: &[seated],
        kept: &[],
        kept_pins: &[],
        source: Some(&done.source),
        fuses: &done.fuses,
        currents: Some(&done.currents),
        safe_grade: done.times.chosen().map(|g| g.name.as_str()),
        probing,
        findings: &others,
        chapters: &chapters,
        files,
        date: None,
    }
    .html()
}
