//! The witness of an original's time: a run of the board that shows it and that can be repeated elsewhere.
use serde::Serialize;

/// A level that a contact, or a bit of a part, is given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Put {
    /// The contact's label, or the bit's name in its part.
    pub at: String,
    /// Whether it is high.
    pub high: bool,
}

/// What a part holds when power comes on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Held {
    /// The package.
    pub part: String,
    /// Its registers and latches.
    pub bits: Vec<Put>,
}

/// A run of the original from power-up on: one contact changes at a time, and everything comes to rest in between.
///
/// What it is kept for shows whatever the registers and latches come up as. Where no event brings a bit to a level, it is shown
/// from both: this run is one of those, and its time the least.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Run {
    /// What registers and latches hold first, of those whose bits count; the others may hold anything.
    pub start: Vec<Held>,
    /// At what nets in loops of gates stand first, by name.
    pub loops: Vec<Put>,
    /// The levels outside at first.
    pub levels: Vec<Put>,
    /// What changes, in order.
    pub events: Vec<Put>,
}

/// The place in a run where a time shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Witness {
    /// Its number among the [runs](super::Timing::runs).
    pub run: usize,
    /// The event after which it shows, by its number: of setup and recovery the change of the clock, of hold that of the data.
    pub event: usize,
}
