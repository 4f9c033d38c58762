//! What is written for people and programmers: equations, wiring, proof record; whole or not at all.
mod equations;
mod lifted;
mod wiring;

pub use equations::{Equation, equation_list, equations};
pub use lifted::lifted_equations;
pub use wiring::{Wire, wires, wires_beside, wiring};
