//! The sources with slips, as the build wrote them.
use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::prelude::*;
use gluewright::prove::Proof;

use crate::claims;

/// A source with a slip in it.
pub struct Slip {
    /// The example's name.
    pub example: &'static str,
    /// The kind of slip.
    pub kind: &'static str,
    /// The first line that changed.
    pub line: u32,
    /// The line as it reads with the slip, which stands between «».
    pub words: &'static str,
    /// Its circuit; nothing if it does not build.
    pub build: fn() -> Option<Circuit>,
    /// Proves it against a card.
    pub run: fn(&Board) -> Result<Proof, Failure>,
}

fn built<C: Wiring>() -> Option<Circuit> {
    gluewright::circuit_of::<C>().ok()
}

include!(concat!(env!("OUT_DIR"), "/slips.rs"));
