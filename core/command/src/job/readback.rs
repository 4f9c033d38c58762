//! After burning: what was read from the parts, fuse by fuse beside what was written, and proved against the card again.
use std::fmt;
use std::path::{Path, PathBuf};

use super::burning::Burning;
use super::emitted::Share;
use super::{Job, JobError};
use gluewright_analysis::hazard::{self, Hazard};
use gluewright_analysis::mend::Mending;
use gluewright_analysis::mend::{Mends, Work};
use gluewright_devices::device::{Device, DeviceError, Meaning};
use gluewright_devices::fit::Fitted;
use gluewright_devices::fusefile::{self, FuseFile, Fuses};
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::limit::Limit;
use gluewright_kernel::prove::{Failure, Proof};
use gluewright_kernel::signals::Wiring;

/// A fuse that isn't as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrongFuse {
    /// The fuse.
    pub fuse: usize,
    /// How it was written.
    pub written: bool,
    /// What it is for.
    pub meaning: Meaning,
}

impl fmt::Display for WrongFuse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (written, read) = (u8::from(self.written), u8::from(!self.written));
        write!(f, "fuse {} was written {written} and reads {read}: {}", self.fuse, self.meaning)
    }
}

/// What the files read from all burned parts of a socket say.
#[derive(Debug)]
pub struct Readback {
    /// The devices, in the order of their references.
    pub devices: Vec<ReadDevice>,
    /// Whether what was read, all parts joined with the packages that stay, is proved against the card.
    pub proof: Result<Proof, Failure>,
    /// If it is refuted, the refutation laid out for a bench, with the pins of the parts that were read.
    pub explanation: Option<Explanation>,
    /// If it is refuted, the changes of one part's fuse map that would mend it.
    pub mends: Option<Mends>,
}

/// What a file read from one burned part says.
#[derive(Debug)]
pub struct ReadDevice {
    /// What the wiring list calls the device, if there are several packages in the socket.
    pub reference: Option<String>,
    /// The file that was read from the part.
    pub read: String,
    /// The file that was written.
    pub written: PathBuf,
    /// Fuses that differ, in rising order; those of the signature too.
    pub differences: Vec<WrongFuse>,
    /// Fuses that only one of the files holds: programmers read parts without their signature, or with a fuse more.
    pub beyond: usize,
    /// Both files' fuse checksums: written, read.
    pub checksums: (u16, u16),
    /// Whether the file asks for the security fuse to be set.
    pub security: bool,
    /// The state of all fuses of the array, if it is the same for all: the part is blank or secured.
    pub uniform: Option<bool>,
    /// Levels that may shake in the part as it was read although its cover as written holds them: the logic is the same, and a
    /// latch can lose what it keeps.
    pub uncovered: Vec<LostCover>,
    /// What is irregular about the file.
    pub remarks: Vec<String>,
}

/// A level that may shake because fuses aren't as they were written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LostCover {
    /// What may shake.
    pub hazard: Hazard,
    /// The wrong fuses each of which, as it was written and all others as they were read, would hold the level; none if it
    /// takes several together.
    pub fuses: Vec<WrongFuse>,
}

impl fmt::Display for LostCover {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let state = |wrong: &WrongFuse| format!("fuse {} at {}", wrong.fuse, u8::from(wrong.written));
        match self.fuses.iter().map(state).collect::<Vec<_>>() {
            none if none.is_empty() => write!(f, "{}; several of the fuses that differ hold it together", self.hazard),
            states => write!(f, "{}; {}, as written, holds it", self.hazard, states.join(" or ")),
        }
    }
}

/// Wrong fuses at most that are put back one by one to see what they hold.
const PUT_BACK: usize = 32;

/// The hazards of a part as it was read, each with the wrong fuses that make it.
fn lost_covers(
    fitted: &Fitted,
    device: &Device,
    read: &Fuses,
    wrong: &[WrongFuse],
) -> Result<Vec<LostCover>, DeviceError> {
    let hazards: Vec<Hazard> = hazard::of_fuses(fitted, device, read)?.logic().cloned().collect();
    let mut all: Vec<LostCover> = hazards.into_iter().map(|hazard| LostCover { hazard, fuses: Vec::new() }).collect();
    if all.is_empty() {
        return Ok(all);
    }
    for one in wrong.iter().filter(|w| !matches!(w.meaning, Meaning::Signature(_))).take(PUT_BACK) {
        let mut mended = read.clone();
        if !mended.set(one.fuse, one.written) {
            continue;
        }
        let left = hazard::of_fuses(fitted, device, &mended)?;
        for lost in all.iter_mut().filter(|lost| !left.logic().any(|h| *h == lost.hazard)) {
            lost.fuses.push(one.clone());
        }
    }
    Ok(all)
}

/// Differences at most that are printed.
const SHOWN: usize = 10;

/// From so many differences on a part holds something else rather than a mistake: a burn that went wrong loses a few cells,
/// or whole rows, which are 32 to 44 fuses (common practice, no source).
const SOMETHING_ELSE: usize = 100;

impl Readback {
    /// Whether every part holds what was written, and they are proved and as free of hazards as they were.
    pub fn is_good(&self) -> bool {
        self.devices.iter().all(|d| d.differences.is_empty() && d.uncovered.is_empty()) && self.proof.is_ok()
    }

    /// Whether some part lost the cover that holds a level through a change.
    pub fn is_uncovered(&self) -> bool {
        self.devices.iter().any(|d| !d.uncovered.is_empty())
    }

    /// Compares two fuse maps of a device.
    pub fn differences(device: &Device, written: &Fuses, read: &Fuses) -> Vec<WrongFuse> {
        let both = written.states().iter().zip(read.states()).enumerate().filter(|(_, (w, r))| w != r);
        both.map(|(fuse, (&state, _))| WrongFuse { fuse, written: state, meaning: device.meaning(written, fuse) })
            .collect()
    }
}

impl ReadDevice {
    /// Whether differences only concern the signature or other fuses that don't bear on what the device does.
    pub fn differs_in_signature_only(&self) -> bool {
        self.differences.iter().all(|d| matches!(d.meaning, Meaning::Signature(_)))
    }
}

impl fmt::Display for ReadDevice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (written, read) = self.checksums;
        if let Some(reference) = &self.reference {
            write!(f, "{reference}: ")?;
        }
        writeln!(f, "{} beside {}:", self.read, self.written.display())?;
        if self.differences.is_empty() {
            writeln!(f, "  every fuse reads as it was written; fuse checksum {read:04X}")?;
        } else {
            let signature = if self.differs_in_signature_only() { ", all of them in the user signature" } else { "" };
            writeln!(
                f,
                "  {}{signature}; fuse checksum {written:04X} written, {read:04X} read",
                counted(self.differences.len(), "fuse differs", "fuses differ")
            )?;
            if self.differences.len() >= SOMETHING_ELSE && self.uniform.is_none() {
                writeln!(
                    f,
                    "  so many that this is the file of another card or device, or of an earlier version of this one, rather than \
                     a bad burn; the first {SHOWN}:"
                )?;
            }
            for difference in self.differences.iter().take(SHOWN) {
                writeln!(f, "  {difference}")?;
            }
            if self.differences.len() > SHOWN {
                writeln!(f, "  and {} more", self.differences.len() - SHOWN)?;
            }
        }
        if self.beyond > 0 {
            let stand = counted(self.beyond, "fuse stands", "fuses stand");
            writeln!(f, "  {stand} in one of the files only and can't be compared")?;
        }
        if let Some(state) = self.uniform {
            writeln!(
                f,
                "  every fuse of the array reads {}: the part is blank, or its security fuse is set and hides what it holds",
                u8::from(state)
            )?;
        }
        if self.security {
            writeln!(
                f,
                "  the file asks for the security fuse: a part burned from it can't be read by the next repairer"
            )?;
        }
        for hazard in &self.uncovered {
            writeln!(f, "  the cover is lost: {hazard}")?;
        }
        for remark in &self.remarks {
            writeln!(f, "  {remark}")?;
        }
        Ok(())
    }
}

/// `1 fuse`, `2 fuses`.
pub(super) fn counted(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}

impl fmt::Display for Readback {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for device in &self.devices {
            device.fmt(f)?;
        }
        let what = if self.devices.len() > 1 { "What was read, all devices as one circuit," } else { "What was read" };
        match &self.proof {
            Ok(proof) if self.is_uncovered() => write!(
                f,
                "Don't use {}. {what} does the same once everything stands still, but a level that the written fuses hold may \
                 now shake while a contact changes, and a latch may lose what it keeps.\nOf the levels that stand still: \
                 {proof}",
                if self.devices.len() > 1 { "these parts" } else { "this part" }
            ),
            Ok(proof) => write!(f, "{what} is proved against the card again.\n{proof}"),
            Err(failure) => {
                writeln!(f, "{what} is NOT proved against the card: don't use this part.")?;
                let Some(explanation) = &self.explanation else { return failure.fmt(f) };
                writeln!(f, "{}\n", explanation.head().trim_end())?;
                if self.devices.iter().any(|d| !d.differences.is_empty()) {
                    let do_next = "Look at the part first: it does not hold what was written. Burn it again, or burn another one.";
                    writeln!(f, "  {do_next}\n")?;
                }
                if let Some(mends) = &self.mends {
                    writeln!(f, "{}\n", mends.to_string().trim_end())?;
                }
                f.write_str(explanation.run().trim_end())
            }
        }
    }
}

/// A part as it was read, with what it is compared with.
struct Part {
    share: Share,
    read: FuseFile,
    circuit: Circuit,
    told: ReadDevice,
}

impl<C: Wiring> Job<C> {
    /// Compares a file that was read from a burned part with the fuse file that an earlier job wrote into `folder`, and proves
    /// what was read against the card. Nothing is written. Of a split it takes the files of all devices:
    /// [`read_back_all`](Job::read_back_all).
    ///
    /// # Errors
    /// If a file can't be read, the source fits differently now than when the fuse file was written, or what was read is
    /// no fuse map of the device.
    pub fn read_back(self, folder: &Path, file: &Path) -> Result<Readback, JobError> {
        self.read_back_all(folder, &[file])
    }

    /// The same for all devices of a socket, in the order of their references, D1 first: they are proved as one circuit, beside
    /// the packages that stay.
    ///
    /// # Errors
    /// As [`read_back`](Job::read_back), and if there are not as many files as devices.
    pub fn read_back_all(self, folder: &Path, files: &[impl AsRef<Path>]) -> Result<Readback, JobError> {
        let mut begun = self.begun()?;
        if begun.around.is_some() {
            // what is in the socket may have been proved in the whole board only
            begun.prove_source()?;
        }
        let (placed, _) = begun.placed()?;
        if let Some(without) = placed.shares.iter().find(|s| s.device.blocks.is_some()) {
            return Err(JobError::NoReadback(without.device.name));
        }
        if placed.shares.len() != files.len() {
            let devices = placed.shares.iter().map(|s| s.reference.as_str()).collect::<Vec<_>>().join(", ");
            return Err(JobError::HowManyRead { devices, files: files.len() });
        }
        let is_alone = placed.is_alone();
        let with_files = placed.shares.into_iter().zip(files);
        let parts = with_files.map(|(share, file)| part(share, is_alone, folder, file.as_ref()));
        let parts = parts.collect::<Result<Vec<Part>, JobError>>()?;
        let with = |changed: Option<(usize, &Circuit)>| {
            let circuit = |at: usize, own| changed.filter(|(of, _)| *of == at).map_or(own, |(_, other)| other);
            let all = parts.iter().enumerate();
            let seats: Vec<(&str, &Circuit, &Fitted)> =
                all.map(|(at, p)| (p.share.reference.as_str(), circuit(at, &p.circuit), &p.share.fitted)).collect();
            begun.joined(&seats)
        };
        let proof = begun.question.clone().about(with(None)).in_another_form().ask();
        // of several parts the one with the fewest wrong fuses is the likeliest to have a slip; a blank part, or another card's,
        // is no slip
        let is_slip =
            |told: &ReadDevice| (1..SOMETHING_ELSE).contains(&told.differences.len()) && told.uniform.is_none();
        let wrong = parts.iter().enumerate().filter(|(_, p)| is_slip(&p.told));
        let mends = match (&proof, wrong.min_by_key(|(_, p)| p.told.differences.len())) {
            (Err(Failure::Refuted(r)), Some((at, part))) => {
                let seated = |lifted: &Circuit| with(Some((at, lifted)));
                Some(r.mend_fuses(&part.share.device, &part.read.fuses, seated, Work::usual()))
            }
            _ => None,
        };
        let explanation = match &proof {
            Err(Failure::Refuted(r)) => {
                let mut explanation = r.explain().with_device_pins(pins(&parts));
                // neither the source nor the trace is asked about
                explanation.probes.iter_mut().for_each(|probe| probe.decision = None);
                Some(explanation)
            }
            _ => None,
        };
        // of parts that do something else it says nothing
        let covered = |told: ReadDevice| ReadDevice { uncovered: Vec::new(), ..told };
        let told = parts.into_iter().map(|p| if proof.is_ok() { p.told } else { covered(p.told) });
        Ok(Readback { devices: told.collect(), proof, explanation, mends })
    }
}

/// The pins of the parts at which each contact of the socket is wired.
fn pins(parts: &[Part]) -> Vec<(Label, String)> {
    let of = |part: &Part| -> Vec<(Label, String)> {
        let named = |pin| match &part.told.reference {
            Some(reference) => format!("{pin} of {reference}"),
            None => format!("{pin}"),
        };
        part.share.fitted.wires.iter().map(|wire| (wire.label.clone(), named(wire.pin))).collect()
    };
    parts.iter().flat_map(of).collect()
}

/// Reads a part's file and compares it with the one that was written for its share.
fn part(share: Share, is_alone: bool, folder: &Path, file: &Path) -> Result<Part, JobError> {
    let device: &Device = &share.device;
    let written = folder.join(share.fuse_file_name(is_alone));
    if !written.exists() {
        return Err(JobError::NotWritten { written });
    }
    let (before, _) = load(&written)?;
    let (read, mut remarks) = load(file)?;
    let burning = Burning { testing: None, source: None, package: None, limit: Limit::default() };
    let (now, _) = burning.fuse_file(&share.fitted, device)?;
    let now = fusefile::read("the fit", &now)?.0;
    // the signature is what the command line said then, and says nothing about the source; another maker's part may have none
    let bears = |d: &WrongFuse| !matches!(d.meaning, Meaning::Signature(_));
    let is_other = device.check(&before.fuses).is_err();
    if is_other || Readback::differences(device, &now.fuses, &before.fuses).iter().any(bears) {
        return Err(JobError::Stale { written });
    }
    let circuit = device.lift(&read.fuses)?;
    let differences = Readback::differences(device, &before.fuses, &read.fuses);
    let uncovered = match lost_covers(&share.fitted, device, &read.fuses, &differences) {
        Ok(lost) => lost,
        Err(e) => {
            remarks.push(format!("not searched for hazards: {e}"));
            Vec::new()
        }
    };
    let array = read.fuses.states().get(..device.rows * device.columns()).unwrap_or_default();
    let uniform = array.first().copied().filter(|first| array.iter().all(|state| state == first));
    let told = ReadDevice {
        reference: (!is_alone).then(|| share.reference.clone()),
        read: file.display().to_string(),
        differences,
        beyond: before.fuses.len().abs_diff(read.fuses.len()),
        checksums: (before.fuses.checksum(), read.fuses.checksum()),
        security: read.security,
        uniform,
        uncovered: if uniform.is_some() { Vec::new() } else { uncovered },
        remarks,
        written,
    };
    Ok(Part { share, read, circuit, told })
}

fn load(path: &Path) -> Result<(FuseFile, Vec<String>), JobError> {
    let bytes = std::fs::read(path).map_err(|error| JobError::Read { path: path.to_owned(), error })?;
    let (file, findings) = fusefile::read(&path.display().to_string(), &bytes)?;
    Ok((file, findings.iter().map(ToString::to_string).collect()))
}
