//! Programmable devices as data: pins, macrocells, fuse maps, and the way from fuses back to a circuit.
