//! The fuse file that is burned: fuses, vectors, and notes that say what it is and what was proved.
use super::JobError;
use gluewright_analysis::vectors::{Strength, Vectors};
use gluewright_devices::device::{Device, Package, PinNumber};
use gluewright_devices::fit::Fitted;
use gluewright_devices::fusefile::{self, FuseFile, Note};
use gluewright_kernel::digest::sha256;
use gluewright_kernel::limit::Limit;
use gluewright_kernel::prove::Proof;

/// What goes into a fuse file beside the fuses.
#[derive(Clone, Copy, Debug)]
pub(super) struct Burning<'a> {
    /// The tester that the vectors are for; none: no vectors.
    pub(super) testing: Option<Strength>,
    /// The proof of the source, if the device was made from one.
    pub(super) source: Option<&'a Proof>,
    /// The package in whose pin order the vectors stand; none: the device's first.
    pub(super) package: Option<&'a str>,
    /// Until when vectors are looked for.
    pub(super) limit: Limit,
}

impl Burning<'_> {
    /// The bytes of the fuse file of a fit, and its vectors.
    pub(super) fn fuse_file(&self, fitted: &Fitted, device: &Device) -> Result<(Vec<u8>, Option<Vectors>), JobError> {
        let package = self.package_of(device)?;
        let fuses = device.encode(&fitted.plan)?;
        let vectors = self.testing.map(|strength| Vectors::within(device, &fuses, strength, self.limit));
        let vectors = vectors.transpose()?;
        let part = device.part.as_ref().map_or_else(String::new, |part| format!(", {part}"));
        let mut notes = vec![format!("circuit {}", fitted.circuit), format!("device {}{part}", device.name)];
        notes.extend(fitted.wires.iter().map(|w| format!("contact {} {} on pin {}", w.label, w.signal, w.pin)));
        if !fitted.plan.signature.is_empty() {
            notes.push(format!("user signature {}", signature(&fitted.plan.signature)));
        }
        if let Some(source) = self.source {
            notes.push("SHA-256 of the source as proved, and of the obligations of its proof:".to_owned());
            notes.push(digest(source));
        }
        if let Some(vectors) = &vectors {
            notes.push(format!("{} test vectors: {}", vectors.list.len(), vectors.coverage.brief()));
        }
        let mut file = FuseFile {
            design: format!("{} for {}", fitted.circuit, device.name),
            notes: notes.into_iter().map(Note::new).collect(),
            fuses,
            lines: device.lines(),
            ..FuseFile::default()
        };
        if let (Some(vectors), Some(package)) = (&vectors, package) {
            file.notes.push(Note::new(format!("test vectors in the pin order of {}", package.name)));
            vectors.put_into(&mut file, package);
        }
        Ok((fusefile::write(&file), vectors))
    }

    fn package_of<'d>(&self, device: &'d Device) -> Result<Option<&'d Package>, JobError> {
        let Some(name) = self.package else { return Ok(device.packages.first()) };
        let bare = |s: &str| s.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_uppercase();
        let found = device.packages.iter().find(|p| bare(p.name) == bare(name));
        found.map(Some).ok_or_else(|| JobError::NoPackage {
            package: name.to_owned(),
            device: device.name,
            known: device.packages.iter().map(|p| p.name).collect::<Vec<_>>().join(", "),
        })
    }
}

/// A user signature as text.
pub(super) fn signature(bytes: &[u8]) -> String {
    bytes.escape_ascii().to_string()
}

/// A digest of what was proved: both circuits as terms, the assumptions, and every obligation.
fn digest(source: &Proof) -> String {
    let mut all = String::new();
    for text in [&source.original, &source.replacement].into_iter().chain(&source.assumptions).chain(&source.matches) {
        all.push_str(text);
        all.push('\0');
    }
    all.push_str(&source.smt2());
    sha256(all.as_bytes())
}

/// `vectors.csv`: the vectors with what each pin carries.
pub(super) fn table(vectors: &Vectors, fitted: &Fitted) -> Result<Vec<u8>, csv::Error> {
    let name = |pin: PinNumber| {
        let wire = fitted.wires.iter().find(|w| w.pin == pin).map(|w| &w.signal);
        wire.or_else(|| fitted.cells.iter().find(|c| c.pin == Some(pin)).map(|c| &c.name)).cloned()
    };
    Ok(vectors.table(name)?.into_bytes())
}
