//! What a job made, as values: proofs, fits, fuses, vectors, times, findings, and every file with its bytes.
use std::borrow::Cow;
use std::path::Path;

use super::finding::Finding;
use super::{JobError, bundle, folder};
use gluewright_analysis::choose::Between;
use gluewright_analysis::hazard::Hazards;
use gluewright_analysis::loading::Loading;
use gluewright_analysis::synchronisers::Habit;
use gluewright_analysis::timing::GradeChoice;
use gluewright_analysis::vectors::Vectors;
use gluewright_devices::device::{Device, Grade};
use gluewright_devices::emit::{Equation, Wire, equation_list};
use gluewright_devices::fit::Fitted;
use gluewright_devices::fusefile::Fuses;
use gluewright_devices::logic::LogicError;
use gluewright_kernel::board::Board;
use gluewright_kernel::circuit::Circuit;
use gluewright_kernel::prove::{Held, Proof};
use gluewright_report::Probing;

/// Everything that a finished job has. Nothing is written until [`write`](Made::write).
#[derive(Debug)]
#[non_exhaustive]
pub struct Made {
    /// The circuit's name.
    pub circuit: String,
    /// The traced card.
    pub board: Board,
    /// The traced card as a circuit.
    pub original: Circuit,
    /// The proof of the source; a job that keeps packages has none, since its device is derived from the trace.
    pub source: Option<Proof>,
    /// The properties that the source keeps, as they were stated.
    pub properties: Vec<Held>,
    /// The proof of what is in the socket, all packages as one circuit, with what was read back from the written files.
    pub written: Proof,
    /// The devices, in the order of their references: at least one.
    pub devices: Vec<Burned>,
    /// What else is in the socket.
    pub beside: Beside,
    /// The adapter's wires.
    pub wires: Vec<Wire>,
    /// The times at the contacts beside the original's, for every speed grade.
    pub times: GradeChoice,
    /// The currents at the contacts beside the original's.
    pub currents: Loading,
    /// The contacts that registers sample, beside the original's habit; none if packages stay.
    pub sampled: Vec<Habit>,
    /// The original's hazards, or why it was not searched for them.
    pub original_hazards: Result<Hazards, LogicError>,
    /// What to expect at the contacts.
    pub probing: Probing,
    /// What there is to think about, though nothing stands in the way.
    pub findings: Vec<Finding>,
    /// Every file of the folder: its name and its bytes, in the order of names, the report last.
    pub files: Vec<(String, Vec<u8>)>,
}

/// A device of a finished job.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Burned {
    /// What the wiring list calls it.
    pub reference: String,
    /// Its type.
    pub device: Cow<'static, Device>,
    /// What it holds.
    pub fitted: Fitted,
    /// The file that it is made from: the fuse file that is burned, or the netlist that its maker's fitter takes.
    pub file: String,
    /// What that file is.
    pub kind: FileKind,
    /// The fuses, as read back from the file; a device of logic blocks has none here.
    pub fuses: Option<Fuses>,
    /// The test vectors, if there is a fuse file and any are wanted.
    pub vectors: Option<Vectors>,
    /// Its hazards as it was written: no logic hazard is among them.
    pub hazards: Hazards,
}

impl Burned {
    /// The fuse checksum of its file, if there are fuses.
    pub fn checksum(&self) -> Option<u16> {
        self.fuses.as_ref().map(Fuses::checksum)
    }

    /// The speed grade in which these times take it.
    pub fn grade(&self, times: &GradeChoice) -> Option<&Grade> {
        let taken = times.best()?.of.iter().find(|of| of.device == self.device.name)?;
        self.device.grades.iter().find(|g| g.name == taken.grade)
    }

    /// Its equations, one for each macrocell.
    pub fn equations(&self) -> Vec<Equation> {
        equation_list(&self.fitted)
    }
}

/// What a device is made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FileKind {
    /// A fuse file by JESD3.
    FuseFile,
    /// A netlist in Verilog.
    Verilog,
}

impl std::fmt::Display for FileKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            FileKind::FuseFile => "fuse file",
            FileKind::Verilog => "Verilog file",
        })
    }
}

/// What is in the socket beside the first device.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Beside {
    /// Nothing: one device does it all.
    Nothing,
    /// Other devices: the circuit was split.
    Devices(Division),
    /// Packages of the original.
    Packages {
        /// Those that stay.
        kept: Vec<Package>,
        /// Those that the device replaces.
        replaced: Vec<Package>,
    },
}

/// A package of the original: reference and part.
pub type Package = (String, String);

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

impl Made {
    /// Writes all files into this folder, which is the circuit's own: what was in it before is gone then. Whole or not at
    /// all.
    ///
    /// # Errors
    /// [`JobError::Write`]; the folder is then as it was.
    pub fn write(&self, folder: &Path) -> Result<(), JobError> {
        folder::write(folder, &self.files).map_err(|(path, error)| JobError::Write { path, error })
    }

    /// Writes the bundle: the folder's files with the record of what is burned and when, in one archive, whole or not at all.
    /// `measured` is the folder's form `bring_up.csv`, filled in.
    ///
    /// # Errors
    /// If the form can't be read or is not this job's, or the archive can't be written; what was there is then as it was.
    pub fn bundle(&self, archive: &Path, measured: Option<&Path>) -> Result<(), JobError> {
        bundle::ready(self, archive, measured)?.place()
    }

    /// The name that the source has among the files, if the job was given its text.
    pub(super) fn source_file(&self) -> String {
        format!("{}.rs", self.circuit)
    }

    /// The bytes of one file.
    pub fn file(&self, name: &str) -> Option<&[u8]> {
        self.files.iter().find(|(n, _)| n == name).map(|(_, bytes)| bytes.as_slice())
    }

    /// The packages of the original that stay.
    pub fn kept(&self) -> &[Package] {
        match &self.beside {
            Beside::Packages { kept, .. } => kept,
            Beside::Nothing | Beside::Devices(_) => &[],
        }
    }

    /// The packages of the original that the device replaces while others stay.
    pub fn replaced(&self) -> &[Package] {
        match &self.beside {
            Beside::Packages { replaced, .. } => replaced,
            Beside::Nothing | Beside::Devices(_) => &[],
        }
    }

    /// How the circuit was split, if it was.
    pub fn split(&self) -> Option<&Division> {
        match &self.beside {
            Beside::Devices(division) => Some(division),
            Beside::Nothing | Beside::Packages { .. } => None,
        }
    }

    /// The device that does it all, if one does.
    pub fn alone(&self) -> Option<&Burned> {
        match (&self.beside, self.devices.as_slice()) {
            (Beside::Nothing, [one]) => Some(one),
            _ => None,
        }
    }
}
