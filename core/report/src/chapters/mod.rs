//! What the analyses found, written as chapters: one file for each analysis.
mod currents;
mod hazards;
mod sampled;
mod times;
mod vectors;

pub use currents::currents;
pub use hazards::hazards;
pub use sampled::sampled;
pub use times::times;
pub use vectors::{vectors, vectors_of};
