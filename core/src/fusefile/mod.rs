//! Fuse files by the JEDEC standard JESD3: reading, writing, checksums.
mod fuses;

pub use fuses::Fuses;
