//! Generators and references that the checks share.
