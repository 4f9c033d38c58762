//! Levels that may be low, high or not known, sixty-four lanes at a time.

/// Sixty-four levels: for each lane whether it can be low and whether it can be high.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct Ternary {
    pub(in crate::vectors) can_low: u64,
    pub(in crate::vectors) can_high: u64,
}

impl Ternary {
    pub(in crate::vectors) const LOW: Ternary = Ternary { can_low: u64::MAX, can_high: 0 };
    pub(in crate::vectors) const HIGH: Ternary = Ternary { can_low: 0, can_high: u64::MAX };
    pub(in crate::vectors) const UNKNOWN: Ternary = Ternary { can_low: u64::MAX, can_high: u64::MAX };

    pub(in crate::vectors) fn known(high: bool) -> Ternary {
        if high { Ternary::HIGH } else { Ternary::LOW }
    }

    pub(in crate::vectors) fn not(self) -> Ternary {
        Ternary { can_low: self.can_high, can_high: self.can_low }
    }

    pub(in crate::vectors) fn not_if(self, inverts: bool) -> Ternary {
        if inverts { self.not() } else { self }
    }

    pub(in crate::vectors) fn or(self, other: Ternary) -> Ternary {
        Ternary { can_low: self.can_low & other.can_low, can_high: self.can_high | other.can_high }
    }

    /// Whatever either can be.
    pub(in crate::vectors) fn join(self, other: Ternary) -> Ternary {
        Ternary { can_low: self.can_low | other.can_low, can_high: self.can_high | other.can_high }
    }

    /// `self` in these lanes, `other` in the rest.
    pub(in crate::vectors) fn in_lanes(self, lanes: u64, other: Ternary) -> Ternary {
        Ternary {
            can_low: (self.can_low & lanes) | (other.can_low & !lanes),
            can_high: (self.can_high & lanes) | (other.can_high & !lanes),
        }
    }

    /// The lanes in which it is high for certain.
    pub(in crate::vectors) fn is_high(self) -> u64 {
        self.can_high & !self.can_low
    }

    /// The lanes in which it is low for certain.
    pub(in crate::vectors) fn is_low(self) -> u64 {
        self.can_low & !self.can_high
    }

    /// The lanes in which it is known.
    pub(in crate::vectors) fn is_known(self) -> u64 {
        self.can_low ^ self.can_high
    }

    /// The lanes in which the two are not the same.
    pub(in crate::vectors) fn differs(self, other: Ternary) -> u64 {
        (self.can_low ^ other.can_low) | (self.can_high ^ other.can_high)
    }

    /// One lane: a level if it is known.
    pub(in crate::vectors) fn lane(self, lane: u32) -> Option<bool> {
        let bit = |word: u64| word >> (lane & 63) & 1 == 1;
        match (bit(self.can_low), bit(self.can_high)) {
            (true, false) => Some(false),
            (false, true) => Some(true),
            _ => None,
        }
    }

    /// The same in every lane as in this one.
    pub(in crate::vectors) fn spread(self, lane: u32) -> Ternary {
        let all = |word: u64| if word >> (lane & 63) & 1 == 1 { u64::MAX } else { 0 };
        Ternary { can_low: all(self.can_low), can_high: all(self.can_high) }
    }

    /// This lane of `from` in lane `to` of `self`.
    pub(in crate::vectors) fn set_lane(&mut self, to: u32, from: Ternary, lane: u32) {
        *self = from.spread(lane).in_lanes(1 << (to & 63), *self);
    }
}
