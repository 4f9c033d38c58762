//! What is written for the device: a fuse file for the programmer or a netlist for the maker's fitter, and in either case
//! what it says when it is read back.
use std::borrow::Cow;

use super::JobError;
use super::burning::{Burning, table};
use super::made::{Burned, FileKind};
use gluewright_analysis::hazard::{self, Hazards};
use gluewright_analysis::vectors::Strength;
use gluewright_devices::device::{Device, DeviceError};
use gluewright_devices::fit::Fitted;
use gluewright_devices::fusefile;
use gluewright_devices::netlist::{self, Netlist};
use gluewright_kernel::circuit::Circuit;

/// A device with its files, as read back.
pub(super) struct Emitted {
    pub(super) burned: Burned,
    /// Names and contents.
    pub(super) files: Vec<(String, Vec<u8>)>,
    /// What was read back from the bytes, with the device's pins as contacts.
    pub(super) circuit: Circuit,
    /// What is irregular about the fuse file.
    pub(super) findings: Vec<fusefile::Finding>,
}

/// What is fitted, and what it is called.
#[derive(Clone)]
pub(super) struct Share {
    pub(super) reference: String,
    pub(super) device: Cow<'static, Device>,
    pub(super) fitted: Fitted,
}

impl Share {
    /// What its fuse file is called: beside others after it, so that those of all lie side by side.
    pub(super) fn fuse_file_name(&self, is_alone: bool) -> String {
        named(&self.reference, is_alone, &format!("{}.jed", self.device.name.to_lowercase()))
    }

    /// Writes a fitted device and reads it back. Beside others its files are named after it, so that those of all lie side by
    /// side; what is named after its circuit is so already.
    pub(super) fn emitted(self, is_alone: bool, burning: Burning<'_>) -> Result<Emitted, JobError> {
        let file = self.fuse_file_name(is_alone);
        let Share { reference, device, fitted } = self;
        let list = Netlist::of(&fitted);
        let verilog = list.verilog();
        let verilog_name = format!("{}.v", fitted.circuit);
        let mut files = vec![
            (verilog_name.clone(), verilog.clone().into_bytes()),
            (format!("{}.vhd", fitted.circuit), list.vhdl().into_bytes()),
        ];
        if device.blocks.is_some() {
            if burning.package.is_some() || burning.testing == Some(Strength::Levels) {
                return Err(JobError::NoVectors { device: device.name });
            }
            let needed = fitted.plan.signature.len();
            if needed > 0 {
                return Err(DeviceError::SignatureTooLong { device: device.name, limit: 0, needed }.into());
            }
            let circuit = netlist::read(&verilog)?;
            let hazards = steady(hazard::of_device(&fitted))?;
            let (file, kind) = (verilog_name, FileKind::Verilog);
            let burned = Burned { reference, device, fitted, file, kind, fuses: None, vectors: None, hazards };
            return Ok(Emitted { burned, files, circuit, findings: Vec::new() });
        }
        let (bytes, vectors) = burning.fuse_file(&fitted, &device)?;
        let (read, findings) = fusefile::read(&file, &bytes)?;
        let circuit = device.lift(&read.fuses)?;
        let hazards = steady(hazard::of_fuses(&fitted, &device, &read.fuses)?)?;
        files.push((file.clone(), bytes));
        if let Some(vectors) = &vectors {
            files.push((named(&reference, is_alone, "vectors.csv"), table(vectors, &fitted)?));
            if !vectors.coverage.missed.is_empty() {
                files.push((named(&reference, is_alone, "missed.csv"), vectors.coverage.missed_table()?.into_bytes()));
            }
        }
        let (kind, fuses) = (FileKind::FuseFile, Some(read.fuses));
        let burned = Burned { reference, device, fitted, file, kind, fuses, vectors, hazards };
        Ok(Emitted { burned, files, circuit, findings })
    }
}

/// A file's name, after the device if there are others.
fn named(reference: &str, is_alone: bool, name: &str) -> String {
    match is_alone {
        true => name.to_owned(),
        false => format!("{}_{name}", reference.to_lowercase()),
    }
}

/// The hazards of the device as written; a logic hazard is a fault and stops the job.
fn steady(hazards: Hazards) -> Result<Hazards, JobError> {
    let logic: Vec<_> = hazards.logic().cloned().collect();
    if logic.is_empty() { Ok(hazards) } else { Err(JobError::Hazard(logic)) }
}
