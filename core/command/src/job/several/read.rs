//! One of several devices: written, and read back.
use super::result::Burned;
use crate::job::JobError;
use crate::job::burning::Burning;
use crate::job::emitted::{self, Emitted};
use gluewright_devices::device::Device;
use gluewright_devices::fit::Fitted;
use gluewright_kernel::circuit::Circuit;

/// A device with its files, as read back.
pub(super) struct Read {
    pub(super) burned: Burned,
    pub(super) files: Vec<(String, Vec<u8>)>,
    pub(super) circuit: Circuit,
    pub(super) remarks: Vec<String>,
}

/// Writes a device and reads it back. Its files are named after it, so that those of several devices lie side by side.
pub(super) fn burn(
    reference: &str,
    fitted: Fitted,
    device: &'static Device,
    burning: Burning<'_>,
) -> Result<Read, JobError> {
    let Emitted { file, files, circuit, checksum, remarks, vectors, .. } = emitted::emitted(&fitted, device, burning)?;
    let named = |name: &str| {
        if name.contains(&fitted.circuit) { name.to_owned() } else { format!("{}_{name}", reference.to_lowercase()) }
    };
    let file = named(&file);
    let files = files.into_iter().map(|(name, bytes)| (named(&name), bytes)).collect();
    let remarks = remarks.into_iter().map(|r| format!("{reference}: {r}")).collect();
    let reference = reference.to_owned();
    let burned = Burned { reference, fitted, file, checksum, device, vectors };
    Ok(Read { burned, files, circuit, remarks })
}
