//! After burning: what was read from the part, fuse by fuse beside what was written, and proved against the card again.
use std::fmt;
use std::path::{Path, PathBuf};

use super::burning::Burning;
use super::error::Of;
use super::{Job, JobError, seat};
use gluewright_analysis::mend::Mending;
use gluewright_analysis::mend::{Mends, Work};
use gluewright_devices::device::{Device, Meaning};
use gluewright_devices::fit::fit;
use gluewright_devices::fusefile::{self, FuseFile, Fuses};
use gluewright_kernel::circuit::Circuit;
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

/// What a file read from a burned part says.
#[derive(Debug)]
pub struct Readback {
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
    /// Whether what was read is proved against the card.
    pub proof: Result<Proof, Failure>,
    /// If it is refuted, the changes of the fuse map that would mend it.
    pub mends: Option<Mends>,
    /// What is irregular about the file.
    pub remarks: Vec<String>,
}

/// Differences at most that are printed.
const SHOWN: usize = 10;

/// From so many differences on a part holds something else rather than a mistake: a burn that went wrong loses a few cells,
/// or whole rows, which are 32 to 44 fuses (common practice, no source).
const SOMETHING_ELSE: usize = 100;

impl Readback {
    /// Whether the part holds what was written and is proved.
    pub fn is_good(&self) -> bool {
        self.differences.is_empty() && self.proof.is_ok()
    }

    /// Whether differences only concern the signature or other fuses that don't bear on what the device does.
    pub fn differs_in_signature_only(&self) -> bool {
        self.differences.iter().all(|d| matches!(d.meaning, Meaning::Signature(_)))
    }

    /// Compares two fuse maps of a device.
    pub fn differences(device: &Device, written: &Fuses, read: &Fuses) -> Vec<WrongFuse> {
        let both = written.states().iter().zip(read.states()).enumerate().filter(|(_, (w, r))| w != r);
        both.map(|(fuse, (&state, _))| WrongFuse { fuse, written: state, meaning: device.meaning(written, fuse) })
            .collect()
    }
}

impl fmt::Display for Readback {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (written, read) = self.checksums;
        writeln!(f, "{} beside {}:", self.read, self.written.display())?;
        if self.differences.is_empty() {
            writeln!(f, "  every fuse reads as it was written; fuse checksum {read:04X}")?;
        } else {
            let signature = if self.differs_in_signature_only() { ", all of them in the user signature" } else { "" };
            writeln!(
                f,
                "  {} fuses differ{signature}; fuse checksum {written:04X} written, {read:04X} read",
                self.differences.len()
            )?;
            if self.differences.len() >= SOMETHING_ELSE && self.uniform.is_none() {
                writeln!(
                    f,
                    "  so many that this is the file of another card, or of an earlier version of this one, rather than a bad \
                     burn; the first {SHOWN}:"
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
            writeln!(f, "  {} fuses stand in one of the files only and can't be compared", self.beyond)?;
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
        for remark in &self.remarks {
            writeln!(f, "  {remark}")?;
        }
        match &self.proof {
            Ok(proof) => write!(f, "What was read is proved against the card again.\n{proof}"),
            Err(failure) => write!(f, "What was read is NOT proved against the card: don't use this part.\n{failure}"),
        }?;
        match &self.mends {
            Some(mends) => write!(f, "\n{}", mends.to_string().trim_end()),
            None => Ok(()),
        }
    }
}

impl<C: Wiring> Job<C> {
    /// Compares a file that was read from a burned part with the fuse file that an earlier job wrote into `folder`, and proves
    /// what was read against the card. Nothing is written.
    ///
    /// # Errors
    /// If a file can't be read, the source fits differently now than when the fuse file was written, or what was read is
    /// no fuse map of the device.
    pub fn read_back(self, folder: &Path, file: &Path) -> Result<Readback, JobError> {
        let device = self.device.device()?;
        let device: &Device = &device;
        if device.blocks.is_some() {
            return Err(JobError::NoReadback(device.name));
        }
        let board = self.card?;
        let (replacement, question) =
            self.claim.question(&board).map_err(|failure| JobError::Proof { of: Of::Source, failure })?;
        let fitted = fit(&replacement, device, &self.wishes)
            .map_err(|reason| JobError::NoFit { device: device.name.to_owned(), reason: Box::new(reason) })?;
        let written = folder.join(format!("{}.jed", device.name.to_lowercase()));
        let (before, _) = load(&written)?;
        let (after, remarks) = load(file)?;
        let (now, _) = Burning { testing: None, source: None, package: None }.fuse_file(&fitted, device)?;
        let now = fusefile::read("the fit", &now)?.0;
        // the signature is what the command line said then, and says nothing about the source
        let bears = |d: &WrongFuse| !matches!(d.meaning, Meaning::Signature(_));
        if now.fuses.len() != before.fuses.len()
            || Readback::differences(device, &now.fuses, &before.fuses).iter().any(bears)
        {
            return Err(JobError::Stale { written });
        }
        let lifted = device.lift(&after.fuses)?;
        let proof = question.about(seat(&lifted, &fitted, &replacement)).in_another_form().ask();
        let array = after.fuses.states().get(..device.rows * device.columns()).unwrap_or_default();
        let uniform = array.first().copied().filter(|first| array.iter().all(|state| state == first));
        // a blank part is no slip
        let mends = match &proof {
            Err(Failure::Refuted(r)) if uniform.is_none() => {
                let seated = |lifted: &Circuit| seat(lifted, &fitted, &replacement);
                Some(r.mend_fuses(device, &after.fuses, seated, Work::usual()))
            }
            _ => None,
        };
        Ok(Readback {
            read: file.display().to_string(),
            written,
            differences: Readback::differences(device, &before.fuses, &after.fuses),
            beyond: before.fuses.len().abs_diff(after.fuses.len()),
            checksums: (before.fuses.checksum(), after.fuses.checksum()),
            security: after.security,
            uniform,
            proof,
            mends,
            remarks,
        })
    }
}

fn load(path: &Path) -> Result<(FuseFile, Vec<String>), JobError> {
    let bytes = std::fs::read(path).map_err(|error| JobError::Read { path: path.to_owned(), error })?;
    let (file, findings) = fusefile::read(&path.display().to_string(), &bytes)?;
    Ok((file, findings.iter().map(ToString::to_string).collect()))
}
