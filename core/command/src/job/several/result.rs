//! What a job with more than one package in the socket ends with.
use std::path::PathBuf;

use gluewright_analysis::choose::Between;
use gluewright_analysis::loading::Loading;
use gluewright_analysis::synchronisers::Habit;
use gluewright_analysis::timing::GradeChoice;
use gluewright_analysis::vectors::Vectors;
use gluewright_devices::device::Device;
use gluewright_devices::fit::Fitted;
use gluewright_kernel::prove::Proof;

/// Everything that such a job has.
#[derive(Debug)]
pub struct Several {
    /// The circuit's name.
    pub circuit: String,
    /// The folder that was written.
    pub folder: PathBuf,
    /// The names of the files in it.
    pub files: Vec<String>,
    /// The proof of the source; a job that keeps packages has none, since its device is derived from the trace.
    pub source: Option<Proof>,
    /// The proof of all packages in the socket as one circuit, with what was read back from the written files.
    pub fuses: Proof,
    /// The devices to burn.
    pub devices: Vec<Burned>,
    /// The packages of the original that stay: reference and part.
    pub kept: Vec<(String, String)>,
    /// The packages of the original that the device replaces, if others stay.
    pub replaced: Vec<(String, String)>,
    /// How the circuit was split, if it was.
    pub split: Option<Division>,
    /// The times at the contacts beside the original's, over all devices and kept packages.
    pub times: GradeChoice,
    /// The currents at the contacts beside the original's.
    pub currents: Loading,
    /// The contacts that registers sample, beside the original's habit; none if packages stay.
    pub sampled: Vec<Habit>,
    /// What there is to think about, though nothing stands in the way.
    pub findings: Vec<String>,
}

/// A device of a job with several.
#[derive(Debug)]
pub struct Burned {
    /// What the wiring list calls it.
    pub reference: String,
    /// What it holds.
    pub fitted: Fitted,
    /// Its fuse file, or the netlist that its maker's fitter takes.
    pub file: String,
    /// The fuse checksum of that file; a netlist has none.
    pub checksum: Option<u16>,
    /// Its type.
    pub device: &'static Device,
    /// Its test vectors, if there is a fuse file and any are wanted.
    pub vectors: Option<Vectors>,
}

/// What is to be said of a split.
#[derive(Clone, Debug)]
pub struct Division {
    /// Wires that carry signals without a contact.
    pub between: Vec<Between>,
    /// Wires from device to device, shared contacts included.
    pub wires: usize,
    /// Whether fewer devices are proved impossible.
    pub fewest_devices: bool,
    /// Whether fewer wires are proved impossible.
    pub fewest_wires: bool,
}
