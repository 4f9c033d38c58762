//! Implementation detail of the `gluewright` crate: the derive of a circuit.
#![deny(missing_docs)]
