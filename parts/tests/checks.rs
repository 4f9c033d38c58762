//! One program of all checks of the library, so that they share the machine: `cargo test --test checks idioms::` runs one room.

mod captured;
mod continuity;
mod data;
mod delays;
mod drafted;
mod fused;
mod idioms;
mod inside;
mod library;
mod memories;
mod metered;
mod page;
mod real_boards;
mod saved_fuses;
mod share;
mod traced_board;
