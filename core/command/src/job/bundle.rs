//! A bundle: the folder's files with the record of what was burned and when, in one archive for whoever keeps the same board.
use std::path::Path;

use gluewright_kernel::digest::sha256;
use serde::Serialize;

use super::bring_up::{self, Measured};
use super::made::Made;
use super::{JobError, whole};

/// The record's name in the archive; the checker reads it under this name.
const LIST: &str = "bundle.json";
/// The name that a filled form has in the archive.
const MEASURED: &str = "measured.csv";

/// The record.
#[derive(Serialize)]
struct List<'m> {
    format: &'static str,
    version: u32,
    circuit: &'m str,
    original: &'m str,
    /// The day on which it was written, in universal time (ISO 8601).
    date: &'m str,
    devices: Vec<Device<'m>>,
    /// What stays of the original: reference and part.
    stays: &'m [(String, String)],
    /// What was measured, if the filled form is in the bundle.
    #[serde(skip_serializing_if = "Option::is_none")]
    measured: Option<Measured>,
    /// What another keeper would want and this bundle lacks.
    lacks: Vec<&'static str>,
    files: Vec<Listed<'m>>,
    gluewright: &'static str,
}

/// A device as it is burned.
#[derive(Serialize)]
struct Device<'m> {
    reference: &'m str,
    device: &'m str,
    /// Maker, type and package of the drawer's part; without a drawer only the type number is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    part: Option<String>,
    /// The speed grade by whose figures its times were judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    grade: Option<&'m str>,
    file: &'m str,
    #[serde(skip_serializing_if = "Option::is_none")]
    fuse_checksum: Option<String>,
}

#[derive(Serialize)]
struct Listed<'m> {
    name: &'m str,
    bytes: usize,
    /// In hexadecimal digits (FIPS 180-4).
    sha256: String,
}

/// The archive's bytes (POSIX ustar), the same for the same folder, form and date.
///
/// # Errors
/// If the form is none of this job's.
fn archive(made: &Made, form: Option<(&str, &[u8])>, date: &str, seconds: u64) -> Result<Vec<u8>, JobError> {
    let measured = form.map(|(name, bytes)| bring_up::measured(name, bytes, made)).transpose()?;
    let files = || {
        let own = made.files.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice()));
        own.chain(form.map(|(_, bytes)| (MEASURED, bytes)))
    };
    let listed =
        |(name, bytes): (&'_ str, &[u8])| -> (String, usize, String) { (name.to_owned(), bytes.len(), sha256(bytes)) };
    let digests: Vec<(String, usize, String)> = files().map(listed).collect();
    let device = |d: &'_ super::Burned| -> (Option<String>, Option<String>) {
        (d.device.part.as_ref().map(ToString::to_string), d.checksum().map(|sum| format!("{sum:04X}")))
    };
    let devices = made.devices.iter().map(|d| {
        let (part, fuse_checksum) = device(d);
        let grade = d.grade(&made.times).map(|g| g.name);
        Device { reference: &d.reference, device: d.fitted.device, part, grade, file: &d.file, fuse_checksum }
    });
    let mut lacks = Vec::new();
    if made.file(&made.source_file()).is_none() {
        lacks.push("the source: the job was not given its text (Job::with_source)");
    }
    if form.is_none() {
        lacks.push("what was measured during bring-up: fill in bring_up.csv and name it with --measured");
    }
    if made.devices.iter().any(|d| d.device.part.is_none()) {
        lacks.push("the maker and full type of each part: name them in a drawer (--drawer)");
    }
    let list = List {
        format: "gluewright bundle",
        version: 1,
        circuit: &made.circuit,
        original: made.board.name(),
        date,
        devices: devices.collect(),
        stays: made.kept(),
        measured,
        lacks,
        files: digests
            .iter()
            .map(|(name, bytes, sha256)| Listed { name, bytes: *bytes, sha256: sha256.clone() })
            .collect(),
        gluewright: env!("CARGO_PKG_VERSION"),
    };
    // nothing in the record can fail to be JSON: strings and numbers only
    let list = serde_json::to_string_pretty(&list).unwrap_or_default() + "\n";
    let mut to = tar::Builder::new(Vec::new());
    for (name, bytes) in [(LIST, list.as_bytes())].into_iter().chain(files()) {
        let mut header = tar::Header::new_ustar();
        header.set_size(bytes.len() as u64);
        header.set_mode(0o644);
        header.set_mtime(seconds);
        let path = format!("{}/{name}", made.circuit);
        to.append_data(&mut header, &path, bytes)
            .map_err(|error| JobError::Write { path: path.as_str().into(), error })?;
    }
    to.into_inner().map_err(|error| JobError::Write { path: LIST.into(), error })
}

/// Writes the bundle beside its place, with this filled form in it.
///
/// # Errors
/// If the form can't be read or is none of this job's, or the file can't be written.
pub(super) fn ready<'p>(made: &Made, path: &'p Path, form: Option<&Path>) -> Result<whole::Ready<'p>, JobError> {
    let filled = match form {
        Some(form) => {
            let bytes = std::fs::read(form).map_err(|error| JobError::Read { path: form.to_owned(), error })?;
            Some((form.display().to_string(), bytes))
        }
        None => None,
    };
    let now = time::OffsetDateTime::now_utc();
    let seconds = u64::try_from(now.unix_timestamp()).unwrap_or(0);
    let form = filled.as_ref().map(|(name, bytes)| (name.as_str(), bytes.as_slice()));
    let bytes = archive(made, form, &now.date().to_string(), seconds)?;
    if let Some(room) = path.parent() {
        std::fs::create_dir_all(room).map_err(|error| JobError::Write { path: path.to_owned(), error })?;
    }
    whole::beside(path, &bytes)
}
