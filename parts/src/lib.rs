//! The TTL that old boards are made of: one description a part, in the language that users write.
#![deny(missing_docs)]
