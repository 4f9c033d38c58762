//! From a circuit to a device and back: two-level logic, minimal covers, the fit into macrocells, fuse maps and netlists
//! written and read, equations for a person, devices in their socket, and the drawer of devices at hand.
#![deny(missing_docs)]
#![warn(missing_debug_implementations)]

// the derive writes `::gluewright`, also in this crate's own tests
#[cfg(test)]
extern crate gluewright_kernel as gluewright;

pub mod cover;
pub mod device;
pub mod drawer;
pub mod emit;
pub mod fit;
pub mod fusefile;
pub mod logic;
pub mod netlist;
pub mod row_problem;
pub mod seat;
