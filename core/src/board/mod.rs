//! The traced original: chips and contacts as read from a sister board, checked, and joined into one circuit.
