//! Programmable parts whose behaviour comes from a saved fuse file.
use std::sync::Arc;

use gluewright::board::Part;
use gluewright::circuit::{Label, Rail};
use gluewright::device::{self, DeviceError, Role};
use gluewright::fusefile::{self, Finding, FuseFileError};
use thiserror::Error;

/// A fuse file that makes no part.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum FusedError {
    /// No known device is named in the type number.
    #[error("`{type_number}` names no device whose fuse map is known; those are {known}")]
    NoDevice {
        /// The type number.
        type_number: String,
        /// The devices.
        known: String,
    },
    /// The file can't be read.
    #[error(transparent)]
    File(#[from] FuseFileError),
    /// The fuses are not those of the device.
    #[error("{file}: {error}")]
    Device {
        /// The file's name.
        file: String,
        /// What the device says of them.
        error: DeviceError,
    },
}

/// A programmable part by its fuse file (JESD3): the old bipolar ones (16L8, 16R4, 16R6, 16R8, 20L8, …) and the erasable
/// ones that replace them.
///
/// `type_number` is what is printed on the package; the device's generic number in it decides. `name` is what the
/// column `part` of a trace calls the part: two of them with different fuses need two names. `file` is the file's name, for
/// messages. What is irregular about the file comes along; the file's test vectors are not run.
///
/// The bipolar parts start in any state: makers disagree about theirs.
///
/// # Errors
/// If no known device is named, or the bytes are not a fuse file of it.
pub fn fused(type_number: &str, name: &str, file: &str, bytes: &[u8]) -> Result<(Part, Vec<Finding>), FusedError> {
    let printed = type_number.to_ascii_uppercase();
    let named = device::all().iter().filter(|d| printed.contains(d.name)).max_by_key(|d| d.name.len());
    let device = named.ok_or_else(|| FusedError::NoDevice {
        type_number: type_number.to_owned(),
        known: device::all().iter().map(|d| d.name).collect::<Vec<_>>().join(", "),
    })?;
    let (read, findings) = fusefile::read(file, bytes)?;
    let mut circuit = device.lift(&read.fuses).map_err(|error| FusedError::Device { file: file.to_owned(), error })?;
    for pin in &device.pins {
        match pin.role {
            Role::Vcc => circuit.add_supply(Label::from(pin.number), Rail::Vcc),
            Role::Gnd => circuit.add_supply(Label::from(pin.number), Rail::Gnd),
            _ => {}
        }
    }
    Ok((Part::logic(name, Arc::new(circuit)), findings))
}
