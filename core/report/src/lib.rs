//! The report: one self-contained page that a repairer prints and puts into the box with the card.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

pub mod adapter;
pub mod build;
pub mod cautions;
mod chapter;
pub mod chapters;
pub mod drawing;
mod page;
mod printable;
pub mod probing;

use gluewright_analysis::loading::Loading;
use gluewright_analysis::mend::Mends;
use gluewright_devices::device::{Device, Grade};
use gluewright_devices::fit::Fitted;
use gluewright_kernel::board::Board;
use gluewright_kernel::circuit::{Circuit, Label};
use gluewright_kernel::explain::Explanation;
use gluewright_kernel::prove::{Held, Proof};

pub use chapter::{Block, Chapter};
pub use probing::Probing;

/// A device on the page.
#[derive(Clone, Copy, Debug)]
pub struct Seated<'a> {
    /// Its reference on the adapter: `D1`.
    pub reference: &'a str,
    /// What it holds.
    pub fitted: &'a Fitted,
    /// The device.
    pub device: &'a Device,
    /// The speed grade by which it is taken, if one is known to be safe.
    pub grade: Option<&'a Grade>,
    /// The name of its fuse file, or of the netlist that the maker's fitter takes.
    pub file: &'a str,
    /// The fuse checksum of that file; a netlist has none.
    pub checksum: Option<u16>,
}

/// A pin of a package of the original that stays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptPin {
    /// The contact that it is wired to, or the joint as the device's wires name it.
    pub label: Label,
    /// The package.
    pub reference: String,
    /// Its pin.
    pub pin: Label,
}

/// Everything that the page tells.
#[derive(Clone, Copy, Debug)]
pub struct Report<'a> {
    /// The circuit's name.
    pub name: &'a str,
    /// The traced card.
    pub board: &'a Board,
    /// The traced card as a circuit.
    pub original: &'a Circuit,
    /// The devices.
    pub devices: &'a [Seated<'a>],
    /// The packages of the original that stay: reference and part.
    pub kept: &'a [(String, String)],
    /// Their pins.
    pub kept_pins: &'a [KeptPin],
    /// The proof of the source; without one the devices were derived from the trace.
    pub source: Option<&'a Proof>,
    /// The proof of what is in the socket, from the files as written.
    pub fuses: &'a Proof,
    /// The properties that the source keeps by itself, as they were stated.
    pub properties: &'a [Held],
    /// The currents at the contacts, from which the bench's resistors follow.
    pub currents: Option<&'a Loading>,
    /// The slowest grade that is safe by the sheets' times, if one is.
    pub safe_grade: Option<&'a str>,
    /// The adapter laid out, if it is to be drawn from both sides.
    pub layout: Option<&'a build::Layout>,
    /// What to expect at the contacts.
    pub probing: &'a Probing,
    /// What trace, contacts and fuse file give to think about.
    pub findings: &'a [String],
    /// What other rooms have to say, in order.
    pub chapters: &'a [Chapter],
    /// All other files of the folder, for their digests.
    pub files: &'a [(String, Vec<u8>)],
    /// A date to print. Without one there is a line to write it on, and the page is the same each time.
    pub date: Option<&'a str>,
}

/// The page of a refutation, with what would mend it if that was looked for. It lists no file: a refuted job writes none.
pub fn refutation_page(explanation: &Explanation, mends: Option<&Mends>) -> String {
    page::refutation::html(explanation, mends)
}

/// The page that takes the place of an earlier refutation's once the circuit is proved.
pub fn proved_page(circuit: &str) -> String {
    page::refutation::nothing(circuit)
}

impl Report<'_> {
    /// The page: HTML that is also well-formed XML, without any reference to the outside.
    pub fn html(&self) -> String {
        page::html(self)
    }
}
