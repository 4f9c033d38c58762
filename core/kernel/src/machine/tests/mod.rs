//! What a machine says of itself, and the algebras that it runs on, each against every case there is.
mod algebras;
mod asked;
mod counted;
mod opened;
