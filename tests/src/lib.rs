//! Generators and references that the checks share.
pub mod answers;
pub mod boards;
pub mod checked;
pub mod circuits;
pub mod delays;
pub mod gates;
pub mod icarus;
pub mod judge;
pub mod published;
pub mod script;
pub mod sheets;
pub mod slice;
pub mod timed;
pub mod walk;
