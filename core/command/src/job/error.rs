//! Why a job did not finish, in words, and its exit status.
use gluewright_analysis::draft::NoDraft;
use std::path::PathBuf;

use gluewright_analysis::hazard::Hazard;
use gluewright_devices::{device, fusefile};
use gluewright_kernel::board::{Finding, TraceError};
use gluewright_kernel::prove::{Broken, Failure};

/// What was to be proved.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Of {
    /// The source.
    Source,
    /// The fuses that would be written.
    Fuses,
    /// The Verilog file that would be written.
    Verilog,
    /// The files of several packages that would be written.
    Files,
    /// The source in the whole board, beside the packages that stay.
    Board,
    /// The source at the boundary of the packages that it replaces, and why the whole board says nothing about it.
    Boundary(String),
}

impl Of {
    /// What a failure of it is told after; of the source it is told as it is.
    pub(super) fn words(&self) -> String {
        let words = match self {
            Of::Source => "",
            Of::Fuses => "From the fuses that would be written: ",
            Of::Verilog => "From the Verilog file that would be written: ",
            Of::Files => "From the files that would be written: ",
            Of::Board => {
                "In the whole board (at the boundary of the packages that are replaced it is not proved either): "
            }
            Of::Boundary(why) => {
                return format!(
                    "At the boundary of the packages that are replaced; whether it shows in the whole board is not known, because \
                     of this: {}\n",
                    why.trim_end()
                );
            }
        };
        words.to_owned()
    }
}

fn lines<T: std::fmt::Display>(all: &[T]) -> String {
    all.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

/// Why a job did not finish.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum JobError {
    /// The trace has errors.
    #[error("{0}")]
    Trace(#[from] TraceError),
    /// Contacts of the card and the circuit don't match.
    #[error("the contacts of the card and of the replacement don't match:\n{}", lines(.0))]
    Contacts(Vec<Finding>),
    /// Not proved, before or after the fit.
    #[error("{}{failure}", of.words())]
    Proof {
        /// What was to be proved.
        of: Of,
        /// Why it was not.
        #[source]
        failure: Failure,
    },
    /// A property that the source should keep is not proved.
    #[error("Of the source's properties: {0}")]
    Property(#[source] Box<Broken>),
    /// No such device.
    #[error("there is no device `{0}` here: choose one of {1}")]
    NoDevice(String, String),
    /// The device doesn't come in the package.
    #[error("a {device} doesn't come in `{package}`: write one of {known}")]
    NoPackage {
        /// The package.
        package: String,
        /// The device.
        device: &'static str,
        /// Those in which it comes.
        known: String,
    },
    /// Something is asked of the test vectors of a device that has none.
    #[error(
        "a {device} has no fuse file here, so it has no test vectors: leave --package and --levels-only out, or choose a device \
         with a fuse map"
    )]
    NoVectors {
        /// The device.
        device: &'static str,
    },
    /// The drawer does not hold the device.
    #[error(
        "there is no {device} in {drawer}, which {}",
        if has.is_empty() { "is empty: put what you have into it".to_owned() } else { format!("has {has}: name one of these with --device, or --survey shows what fits") }
    )]
    NotInDrawer {
        /// The device.
        device: &'static str,
        /// The drawer.
        drawer: String,
        /// What it holds; empty if that is nothing.
        has: String,
    },
    /// It does not fit.
    #[error("does not fit a {device}: {reason}\n--survey lists the devices that hold it, and what else there is")]
    NoFit {
        /// The device.
        device: String,
        /// The first reason.
        #[source]
        reason: Box<gluewright_devices::fit::NoFit>,
    },
    /// The device refuses the plan, or its fuses.
    #[error("{0}")]
    Device(#[from] device::DeviceError),
    /// A form of the bench is not the one that this job wrote.
    #[error("{file}:{line}: {what}")]
    Form {
        /// The file.
        file: String,
        /// The line; 0 if it is about the whole.
        line: u64,
        /// What is wrong with it, and the mend.
        what: String,
    },
    /// There are no test vectors.
    #[error("no test vectors: {0}")]
    Vectors(#[from] gluewright_analysis::vectors::NoVectors),
    /// The written fuse file can't be read back.
    #[error("a fuse file can't be read: {0}")]
    FuseFile(#[from] fusefile::FuseFileError),
    /// The written device could lose a level that it is to keep.
    #[error("the device that would be written is not steady:\n{}", lines(.0))]
    Hazard(Vec<Hazard>),
    /// The written netlist can't be read back.
    #[error("the Verilog file that was made can't be read back: {0}")]
    Netlist(#[from] gluewright_devices::netlist::NetlistError),
    /// It does not split over several devices.
    #[error("{0}")]
    NoSplit(#[from] gluewright_analysis::choose::NoSplit),
    /// The packages that are to stay can't.
    #[error("{0}")]
    Keep(#[from] gluewright_kernel::board::KeepError),
    /// A list beside a trace can't be read.
    #[error("{0}")]
    List(#[from] gluewright_kernel::board::ListError),
    /// A netlist can't be read as a board.
    #[error("{0}")]
    Board(gluewright_kernel::board::NetlistError),
    /// A netlist that knows no types stands alone.
    #[error("{0} names no types of parts: give the list of parts beside it with --parts")]
    PartsList(String),
    /// The drawer file can't be used.
    #[error("{0}")]
    Drawer(#[from] gluewright_devices::drawer::DrawerError),
    /// The file about the board around the card can't be used.
    #[error("{0}")]
    Host(#[from] gluewright_analysis::host::HostError),
    /// The circuit can't be built.
    #[error("{0}")]
    Circuit(#[from] gluewright_kernel::signals::BuildError),
    /// The wiring list can't be put into rows.
    #[error("the wiring list: {0}")]
    Wiring(#[from] csv::Error),
    /// A file can't be read.
    #[error("can't read {path}: {error}")]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system says.
        #[source]
        error: std::io::Error,
    },
    /// The number of fuses doesn't say which device a file is for.
    #[error(
        "{file} has {fuses} fuses, {}",
        if devices.is_empty() { "as no device that is known here".to_owned() } else { format!("as several devices have: name one of {devices}") }
    )]
    WhichDevice {
        /// The file.
        file: String,
        /// How many fuses it has.
        fuses: usize,
        /// The devices that have as many.
        devices: String,
    },
    /// Nobody knows what some pins of a fuse file's device do.
    #[error(
        "{file} leaves pins {pins} set up as no data sheet describes, so nothing can be proved of them: compare it with a file \
         that sets them up alike, or leave these pins off the board"
    )]
    NotDescribed {
        /// The file.
        file: String,
        /// The pins.
        pins: String,
    },
    /// What was read from a device without a fuse map says nothing here.
    #[error(
        "a {0} has no fuse map here: what is read from it can't be compared or proved; let its maker's software verify it \
         against the programming file, and check it in the board with --capture"
    )]
    NoReadback(&'static str),
    /// There are not as many files read from parts as devices.
    #[error(
        "{files} {} given, but the socket holds {devices}: give one file read from each, in this order, after --readback",
        if *files == 1 { "file is" } else { "files are" }
    )]
    HowManyRead {
        /// The devices.
        devices: String,
        /// How many files there are.
        files: usize,
    },
    /// The written fuse file isn't that of the source.
    #[error(
        "{written} was written from another source than this one, or for other devices (--device, --drawer, --split, --keep): \
         write it again, or go back to the source that the part was burned from"
    )]
    Stale {
        /// The file.
        written: PathBuf,
    },
    /// Nothing was written for this device here.
    #[error(
        "there is no {written}: what is in this folder was made for other devices, or nowhere: run as it was made (--device, \
         --drawer, --split, --keep, --out)"
    )]
    NotWritten {
        /// The file that this run would have written.
        written: PathBuf,
    },
    /// There is no draft of this trace.
    #[error(transparent)]
    NoDraft(#[from] NoDraft),
    /// A package reads its trace as plain CSV.
    #[error(
        "{0} needs more than itself to be read, and the source of a package reads plain CSV: write the trace as CSV with the \
         columns ref, part, pin and net, or draft without --package"
    )]
    NotPlainTrace(String),
    /// A package is made in a new folder only.
    #[error("{0} is there already: a package is made in a new folder, so that nothing that you wrote is lost")]
    Exists(PathBuf),
    /// A trace may hold corrections by hand.
    #[error(
        "{0} is there already, perhaps with corrections of your own: write the trace into a new file and compare the two"
    )]
    TraceExists(PathBuf),
    /// Readings of a meter, or the list of parts beside them, can't be read.
    #[error("{0}")]
    Continuity(#[from] gluewright_analysis::continuity::ContinuityError),
    /// A capture, or the list of its channels, can't be used.
    #[error("{0}")]
    Capture(#[from] gluewright_analysis::capture::CaptureError),
    /// A file can't be written.
    #[error("can't write {path}: {error}; nothing was changed")]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        #[source]
        error: std::io::Error,
    },
}

impl From<gluewright_kernel::board::NetlistError> for JobError {
    fn from(error: gluewright_kernel::board::NetlistError) -> Self {
        match error {
            gluewright_kernel::board::NetlistError::Trace(error) => JobError::Trace(error),
            other => JobError::Board(other),
        }
    }
}

impl JobError {
    /// What kind of error it is, as `--json` calls it.
    pub fn kind(&self) -> &'static str {
        match self {
            JobError::Trace(_) => "trace",
            JobError::Contacts(_) => "contacts",
            JobError::Proof { .. } => "proof",
            JobError::Property(_) => "property",
            JobError::NoDevice(..) => "no_device",
            JobError::NoPackage { .. } => "no_package",
            JobError::NoVectors { .. } => "no_vectors",
            JobError::NotInDrawer { .. } => "not_in_drawer",
            JobError::NoFit { .. } => "no_fit",
            JobError::Device(_) => "device",
            JobError::Form { .. } => "form",
            JobError::Vectors(_) => "vectors",
            JobError::FuseFile(_) => "fuse_file",
            JobError::Hazard(_) => "hazard",
            JobError::Netlist(_) => "netlist",
            JobError::NoSplit(_) => "no_split",
            JobError::Keep(_) => "keep",
            JobError::List(_) => "list",
            JobError::Board(_) => "board_netlist",
            JobError::PartsList(_) => "parts_list",
            JobError::Drawer(_) => "drawer",
            JobError::Host(_) => "host",
            JobError::Circuit(_) => "circuit",
            JobError::Wiring(_) => "table",
            JobError::Read { .. } => "read",
            JobError::WhichDevice { .. } => "which_device",
            JobError::NotDescribed { .. } => "not_described",
            JobError::NoReadback(_) => "no_readback",
            JobError::HowManyRead { .. } => "how_many_read",
            JobError::Stale { .. } => "stale",
            JobError::NotWritten { .. } => "not_written",
            JobError::NoDraft(_) => "no_draft",
            JobError::NotPlainTrace(_) => "not_plain_trace",
            JobError::Exists(_) | JobError::TraceExists(_) => "exists",
            JobError::Continuity(_) => "continuity",
            JobError::Capture(_) => "capture",
            JobError::Write { .. } => "write",
        }
    }

    /// The exit status: 1 for a verdict, 2 for anything that is wrong with the input.
    pub fn status(&self) -> u8 {
        match self {
            JobError::Proof {
                failure: Failure::Refuted(_) | Failure::Undecided(_) | Failure::Withheld(_) | Failure::InPart(_),
                ..
            } => 1,
            JobError::Property(broken) if !matches!(**broken, Broken::Refused(_)) => 1,
            _ => 2,
        }
    }
}
