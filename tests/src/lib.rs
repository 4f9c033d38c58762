//! Generators and references that the checks share.
pub mod gates;
