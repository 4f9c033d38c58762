//! Drawings in SVG that read in black and white: the socket, the device as it is seen from above.
mod package;
mod pen;
mod socket;

pub use package::device;
pub(crate) use pen::{Hold, Look, Pen};
pub use socket::{pins, socket};
