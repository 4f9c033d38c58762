//! What the adapter is built from: where contacts and pins are, the wires between them, and the same for other programs.
mod drawn;
mod lists;
mod netlist;
mod places;

pub use drawn::{Side, drawing};
pub use lists::{parts, wires};
pub use netlist::netlist;
pub use places::{Layout, Net, Point, Wire};
