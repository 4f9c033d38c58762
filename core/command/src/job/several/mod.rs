//! Jobs that end with more than one package in the socket: a split over several devices, a device beside kept packages.
mod contacts;
mod keep;
mod read;
mod result;
mod split;
mod written;

pub use keep::beside_kept;
pub use result::{Burned, Division, Several};
