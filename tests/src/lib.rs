//! Generators and references that the checks share.
pub mod boards;
pub mod circuits;
pub mod gates;
pub mod judge;
pub mod walk;
