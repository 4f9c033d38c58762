//! Programmable devices as data: pins, macrocells, fuse maps, and the way from fuses back to a circuit.
mod blocks;
mod catalogue;
mod decode;
mod description;
mod encode;
mod error;
mod figures;
mod lift;
mod make;
mod meaning;
mod normalise;
mod plan;
mod read;
mod replace;

pub use blocks::{Blocks, Limit, PortPin, PortRest};
pub use catalogue::{all, find};
pub use description::{
    Body, Configuration, Device, EnableSource, Feedback, Function, Inverter, Macrocell, Mode, Package, Pin, PinNumber,
    Role, Source,
};
pub use error::DeviceError;
pub use figures::{Electrical, Figure, Grade, Provenance, Shortest, Termination};
pub(crate) use make::begins;
pub use make::{Make, OpenPin, Part};
pub use meaning::{Meaning, TermUse};
pub use plan::{Cell, Enable, Literal, Plan, Term};
pub use read::Remark;
