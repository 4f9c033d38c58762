//! Invented lost cards and their replacements, each a file that a user could have written.
pub mod first_try;
pub mod loom_bridge;
pub mod organ_memory;
pub mod organ_pistons;
pub mod sample_card;
