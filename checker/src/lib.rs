//! A check of a written certificate by other means: the trace, the wiring and the fuse files are read again, both circuits
//! are built from part models of the checker's own, the obligations are derived from a semantics of its own, and a solver
//! answers them whose proofs are checked in turn. Nothing of the prover's code stands here.
pub mod bundle;
pub mod certificate;
pub mod compare;
pub mod device;
pub mod folder;
pub mod fuses;
pub mod graph;
pub mod hinted;
pub mod induction;
pub mod machine;
pub mod model;
pub mod pair;
pub mod part;
pub mod reset;
pub mod sat;
pub mod socket;
pub mod trace;
pub mod verdict;
pub mod walk;
