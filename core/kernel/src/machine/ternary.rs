//! Levels that may be unknown: what every start and every resolution of an unknown agrees on stays a level.
use crate::machine::{Algebra, Unknown};

/// A level, or either.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Ternary {
    /// Low, false.
    Low,
    /// High, true.
    High,
    /// Not known.
    Either,
}

use Ternary::{Either, High, Low};

impl Ternary {
    /// The level, if it is known.
    pub fn known(self) -> Option<bool> {
        match self {
            Low => Some(false),
            High => Some(true),
            Either => None,
        }
    }

    /// A known level.
    pub fn of(high: bool) -> Self {
        if high { High } else { Low }
    }
}

/// The algebra of levels that may be unknown. It forgets how unknowns hang together, so what it calls known is known.
#[derive(Clone, Debug, Default)]
pub struct Careful {
    /// Whether a race, a recovery or a joint release could have happened. A floating net that is read is none.
    pub met: bool,
}

impl Algebra for Careful {
    type Value = Ternary;

    fn constant(&mut self, high: bool) -> Ternary {
        Ternary::of(high)
    }
    fn not(&mut self, a: Ternary) -> Ternary {
        match a {
            Low => High,
            High => Low,
            Either => Either,
        }
    }
    fn and(&mut self, a: Ternary, b: Ternary) -> Ternary {
        match (a, b) {
            (Low, _) | (_, Low) => Low,
            (High, High) => High,
            _ => Either,
        }
    }
    fn or(&mut self, a: Ternary, b: Ternary) -> Ternary {
        match (a, b) {
            (High, _) | (_, High) => High,
            (Low, Low) => Low,
            _ => Either,
        }
    }
    fn xor(&mut self, a: Ternary, b: Ternary) -> Ternary {
        match (a.known(), b.known()) {
            (Some(a), Some(b)) => Ternary::of(a != b),
            _ => Either,
        }
    }
    fn choose(&mut self, when: Ternary, then: Ternary, otherwise: Ternary) -> Ternary {
        match when {
            High => then,
            Low => otherwise,
            Either if then == otherwise => then,
            Either => Either,
        }
    }
    fn unknown(&mut self, site: Unknown, when: Ternary, usual: Ternary) -> Ternary {
        if when == Low {
            return usual;
        }
        self.met |= !matches!(site, Unknown::Floating(_));
        Either
    }
}
