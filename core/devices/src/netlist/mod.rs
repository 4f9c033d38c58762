//! Standard netlists of a fitted device: Verilog (IEEE 1364-2001) and VHDL (IEEE 1076-1993), and the way back from our
//! own Verilog to a circuit.
//!
//! Both files say the same: a level for each macrocell, a register or latch where it has one, and a driver for each
//! output. A register shows its new level one nanosecond after the edge, so that in a simulator everything that an edge
//! clocks loads what stood before it, whatever logic the clock comes through; synthesis leaves the delay out.
mod model;
mod names;
mod read;
mod verilog;
mod vhdl;

pub use model::{Direction, Netlist, Port};
pub use read::{NetlistError, NetlistProblem, read};
