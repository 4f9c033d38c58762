//! What is written for the device: a fuse file for the programmer or a netlist for the maker's fitter, and in either case
//! what it says when it is read back.
use super::JobError;
use super::burning::{Burning, table};
use gluewright_analysis::hazard::{self, Hazards};
use gluewright_analysis::vectors::Vectors;
use gluewright_devices::device::{Device, DeviceError};
use gluewright_devices::fit::Fitted;
use gluewright_devices::fusefile;
use gluewright_devices::netlist::{self, Netlist};
use gluewright_kernel::circuit::Circuit;

/// The written device.
pub(super) struct Emitted {
    /// What the second proof is of: `fuse file`, `Verilog file`.
    pub(super) what: &'static str,
    /// The file that it is of.
    pub(super) file: String,
    /// Names and contents.
    pub(super) files: Vec<(String, Vec<u8>)>,
    /// What was read back from the bytes, with the device's pins as contacts.
    pub(super) circuit: Circuit,
    /// The fuse checksum, if there are fuses.
    pub(super) checksum: Option<u16>,
    /// The test vectors, if there are any.
    pub(super) vectors: Option<Vectors>,
    /// What is odd about it.
    pub(super) remarks: Vec<String>,
}

/// Writes a fitted device and reads it back.
pub(super) fn emitted(fitted: &Fitted, device: &Device, burning: Burning<'_>) -> Result<Emitted, JobError> {
    let list = Netlist::of(fitted);
    let verilog = list.verilog();
    let mut files = vec![
        (format!("{}.v", fitted.circuit), verilog.clone().into_bytes()),
        (format!("{}.vhd", fitted.circuit), list.vhdl().into_bytes()),
    ];
    if device.blocks.is_some() {
        let needed = fitted.plan.signature.len();
        if needed > 0 {
            return Err(DeviceError::SignatureTooLong { device: device.name, limit: 0, needed }.into());
        }
        let circuit = netlist::read(&verilog)?;
        let remarks = steady(hazard::of_device(fitted))?;
        let file = format!("{}.v", fitted.circuit);
        return Ok(Emitted { what: "Verilog file", file, files, circuit, checksum: None, vectors: None, remarks });
    }
    let (bytes, vectors) = burning.fuse_file(fitted, device)?;
    let name = format!("{}.jed", device.name.to_lowercase());
    let (read, remarks) = fusefile::read(&name, &bytes)?;
    let circuit = device.lift(&read.fuses)?;
    let mut remarks: Vec<String> = remarks.iter().map(ToString::to_string).collect();
    remarks.extend(steady(hazard::of_fuses(fitted, device, &read.fuses)?)?);
    files.push((name.clone(), bytes));
    if let Some(vectors) = &vectors {
        files.push(("vectors.csv".to_owned(), table(vectors, fitted)?));
        if !vectors.coverage.missed.is_empty() {
            files.push(("missed.csv".to_owned(), vectors.coverage.missed_table()?.into_bytes()));
        }
    }
    let checksum = Some(read.fuses.checksum());
    Ok(Emitted { what: "fuse file", file: name, files, circuit, checksum, vectors, remarks })
}

/// What is to be said of the hazards of the device as written; a logic hazard is a fault and stops the job.
fn steady(hazards: Hazards) -> Result<Vec<String>, JobError> {
    let logic: Vec<String> = hazards.logic().map(ToString::to_string).collect();
    if logic.is_empty() { Ok(in_words(&hazards)) } else { Err(JobError::Hazard(logic.join("\n"))) }
}

/// What is to be said of the original's hazards: warnings, since it worked with them.
pub(super) fn of_original(original: &Circuit) -> Vec<String> {
    match hazard::of_original(original) {
        Ok(hazards) => in_words(&hazards),
        Err(e) => vec![format!("the original was not searched for hazards: {e}")],
    }
}

fn in_words(hazards: &Hazards) -> Vec<String> {
    hazards.list.iter().map(ToString::to_string).chain(hazards.left_out.iter().cloned()).collect()
}
