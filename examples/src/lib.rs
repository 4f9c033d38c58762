//! Invented lost cards and their replacements, each a file that a user could have written.
pub mod sample_card;
