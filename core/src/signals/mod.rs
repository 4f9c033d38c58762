//! The typed surface: what a user writes, and how it becomes a circuit.
