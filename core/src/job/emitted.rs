//! What is written for the device: a fuse file for the programmer or a netlist for the maker's fitter, and in either case
//! what it says when it is read back.
use super::{JobError, fuse_file};
use crate::circuit::Circuit;
use crate::device::Device;
use crate::fit::Fitted;
use crate::fusefile;
use crate::netlist::{self, Netlist};

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
    /// What is odd about it.
    pub(super) remarks: Vec<String>,
}

/// Writes a fitted device and reads it back.
pub(super) fn emitted(fitted: &Fitted, device: &Device) -> Result<Emitted, JobError> {
    let list = Netlist::of(fitted);
    let verilog = list.verilog();
    let mut files = vec![
        (format!("{}.v", fitted.circuit), verilog.clone().into_bytes()),
        (format!("{}.vhd", fitted.circuit), list.vhdl().into_bytes()),
    ];
    if device.blocks.is_some() {
        let circuit = netlist::read(&verilog)?;
        let file = format!("{}.v", fitted.circuit);
        return Ok(Emitted { what: "Verilog file", file, files, circuit, checksum: None, remarks: Vec::new() });
    }
    let bytes = fuse_file(fitted, device)?;
    let name = format!("{}.jed", device.name.to_lowercase());
    let (read, remarks) = fusefile::read(&name, &bytes)?;
    let circuit = device.lift(&read.fuses)?;
    files.push((name.clone(), bytes));
    Ok(Emitted {
        what: "fuse file",
        file: name,
        files,
        circuit,
        checksum: Some(read.fuses.checksum()),
        remarks: remarks.iter().map(ToString::to_string).collect(),
    })
}
