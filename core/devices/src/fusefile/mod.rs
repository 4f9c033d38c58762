//! Fuse files by the JEDEC standard JESD3: reading, writing, checksums.
mod error;
mod field;
mod finding;
mod frame;
mod fuses;
mod read;
mod write;

pub use error::{FuseFileError, Problem};
pub use finding::{Finding, Irregularity};
pub use fuses::Fuses;
pub use read::read;
pub use write::write;

/// The largest number of fuses that is read: far above any device with a published fuse map, so a larger number in a
/// file is a damaged number.
pub const FUSE_LIMIT: usize = 1 << 22;

/// What a fuse file holds.
///
/// Texts are printable ASCII without `*`; writing replaces anything else by `?`. Lines inside a text end in `\n` here and
/// in CR LF in the file.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct FuseFile {
    /// The design specification: free text that opens the file.
    pub design: String,
    /// Notes (N fields), in the order of the file.
    pub notes: Vec<Note>,
    /// The states of all fuses; none in a file that only tests (no QF field is written then).
    pub fuses: Fuses,
    /// The first fuse of every L field, so that rows of the array stand in lines of their own. Anything longer than 64
    /// fuses is written as several fields.
    pub lines: Vec<usize>,
    /// The electrical data fuses (E field), which the fuse checksum counts too.
    pub electrical: Vec<bool>,
    /// The user data (U field), which no checksum counts but that of the transmission.
    pub user: Option<UserData>,
    /// Whether the security fuse is to be set (G field).
    pub security: bool,
    /// How many test conditions a vector has (QP field).
    pub pins: Option<usize>,
    /// Which pin each condition of a vector is for (P field); in numeric order if empty.
    pub pin_order: Vec<u16>,
    /// The level of inputs whose condition is `X` (X field).
    pub default_level: Option<bool>,
    /// Test vectors in numeric order.
    pub vectors: Vec<Vector>,
}

/// A note.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Note {
    /// It stands right before the field that lists this fuse; `None`: it is about the whole file.
    pub before: Option<usize>,
    /// What it says.
    pub text: String,
}

impl Note {
    /// A note about the whole file.
    pub fn new(text: impl Into<String>) -> Self {
        Note { before: None, text: text.into() }
    }

    /// A note about the fuses from this one on.
    pub fn before(fuse: usize, text: impl Into<String>) -> Self {
        Note { before: Some(fuse), text: text.into() }
    }
}

/// User data in one of its notations.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UserData {
    /// Fuse states, read from left to right.
    Bits(Vec<bool>),
    /// Hexadecimal digits (UH, from memory).
    Hex(String),
    /// Text (UA, from memory).
    Text(String),
}

/// A test vector.
///
/// Conditions, from memory: `0` `1` drive low, high; `2` to `9` drive to a supervoltage; `C` pulses high, `K` pulses low;
/// `D` `U` drive low, high with a stated slew; `F` floats; `H` `L` test high, low; `Z` tests for high impedance; `N` is a
/// power pin or not tested; `X` is not tested, an input at its default level; `B` `P` preload registers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Vector {
    /// Its number; vectors are applied in numeric order.
    pub number: u32,
    /// One character for each condition.
    pub conditions: String,
}
