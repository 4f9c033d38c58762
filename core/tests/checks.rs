//! One program of all checks of the face, so that they share the machine: `cargo test --test checks fit::` runs one room.

mod cover;
#[path = "device/main.rs"]
mod device;
#[path = "fit/main.rs"]
mod fit;
mod fusefile;
mod netlist;
mod report;
mod seat;
#[path = "signals/main.rs"]
mod signals;
