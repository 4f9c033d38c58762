//! Levels of three values as two functions: where it is certainly high, and where certainly low.
use gluewright_devices::logic::{Diagram, Diagrams, Product};

/// Where a level is certainly high and where certainly low; elsewhere it is neither.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ternary {
    pub(super) high: Diagram,
    pub(super) low: Diagram,
}

impl Ternary {
    pub(super) const LOW: Ternary = Ternary { high: Diagram::LOW, low: Diagram::HIGH };
    pub(super) const HIGH: Ternary = Ternary { high: Diagram::HIGH, low: Diagram::LOW };
    /// Neither, anywhere.
    pub(super) const OPEN: Ternary = Ternary { high: Diagram::LOW, low: Diagram::LOW };

    pub(super) fn constant(high: bool) -> Self {
        if high { Ternary::HIGH } else { Ternary::LOW }
    }

    /// A level of two values.
    pub(super) fn certain(d: &mut Diagrams, level: Diagram) -> Self {
        Ternary { high: level, low: d.not(level) }
    }

    pub(super) fn not(self) -> Self {
        Ternary { high: self.low, low: self.high }
    }

    pub(super) fn and(self, d: &mut Diagrams, other: Self) -> Self {
        Ternary { high: d.and(self.high, other.high), low: d.or(self.low, other.low) }
    }

    pub(super) fn or(self, d: &mut Diagrams, other: Self) -> Self {
        self.not().and(d, other.not()).not()
    }

    pub(super) fn xor(self, d: &mut Diagrams, other: Self) -> Self {
        let (a, b) = (self.and(d, other.not()), self.not().and(d, other));
        a.or(d, b)
    }

    /// A choice that doesn't shake while both are alike: a multiplexer or latch of silicon.
    pub(super) fn choose(self, d: &mut Diagrams, then: Self, otherwise: Self) -> Self {
        let (a, b, c) = (self.and(d, then), self.not().and(d, otherwise), then.and(d, otherwise));
        let high = {
            let ab = d.or(a.high, b.high);
            d.or(ab, c.high)
        };
        let low = {
            let a = d.and(self.high, then.low);
            let b = d.and(self.low, otherwise.low);
            let c = d.and(then.low, otherwise.low);
            let ab = d.or(a, b);
            d.or(ab, c)
        };
        Ternary { high, low }
    }

    /// Where it is neither.
    pub(super) fn open(self, d: &mut Diagrams) -> Diagram {
        let certain = d.or(self.high, self.low);
        d.not(certain)
    }
}

/// A product term, its literals as they are.
pub(super) fn product(d: &mut Diagrams, product: &Product, leaf: &dyn Fn(usize) -> Ternary) -> Ternary {
    product.iter().fold(Ternary::HIGH, |all, &(variable, value)| {
        let level = leaf(variable);
        all.and(d, if value { level } else { level.not() })
    })
}

/// A sum of product terms, none left out or joined.
pub(super) fn sum<'p>(
    d: &mut Diagrams,
    terms: impl IntoIterator<Item = &'p Product>,
    inverted: bool,
    leaf: &dyn Fn(usize) -> Ternary,
) -> Ternary {
    let sum = terms.into_iter().fold(Ternary::LOW, |any, term| {
        let term = product(d, term, leaf);
        any.or(d, term)
    });
    if inverted { sum.not() } else { sum }
}
