//! Levels that may be undetermined, over any algebra: whether one can be high, and whether it can be low.
//! (Ternary simulation in two rails: Eichelberger 1965.)
use super::Algebra;

/// Whether a level can be high, and whether it can be low.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rails<V> {
    pub(crate) high: V,
    pub(crate) low: V,
}

impl<V: Copy + PartialEq + std::fmt::Debug> Rails<V> {
    /// A level that is determined.
    pub(crate) fn of<A: Algebra<Value = V>>(algebra: &mut A, level: V) -> Self {
        Rails { high: level, low: algebra.not(level) }
    }

    /// The level, if it is determined everywhere.
    fn level<A: Algebra<Value = V>>(self, algebra: &mut A) -> Option<V> {
        (algebra.not(self.high) == self.low).then_some(self.high)
    }

    /// Where it is undetermined.
    pub(crate) fn open<A: Algebra<Value = V>>(self, algebra: &mut A) -> V {
        algebra.and(self.high, self.low)
    }

    /// Not.
    pub(crate) fn not(self) -> Self {
        Rails { high: self.low, low: self.high }
    }

    /// Either of the two may be meant.
    pub(crate) fn join<A: Algebra<Value = V>>(self, algebra: &mut A, other: Self) -> Self {
        Rails { high: algebra.or(self.high, other.high), low: algebra.or(self.low, other.low) }
    }

    /// And.
    pub(crate) fn and<A: Algebra<Value = V>>(self, algebra: &mut A, other: Self) -> Self {
        if let (Some(a), Some(b)) = (self.level(algebra), other.level(algebra)) {
            let level = algebra.and(a, b);
            return Rails::of(algebra, level);
        }
        Rails { high: algebra.and(self.high, other.high), low: algebra.or(self.low, other.low) }
    }

    /// Or.
    pub(crate) fn or<A: Algebra<Value = V>>(self, algebra: &mut A, other: Self) -> Self {
        self.not().and(algebra, other.not()).not()
    }

    /// Exclusive or.
    pub(crate) fn xor<A: Algebra<Value = V>>(self, algebra: &mut A, other: Self) -> Self {
        if let (Some(a), Some(b)) = (self.level(algebra), other.level(algebra)) {
            let level = algebra.xor(a, b);
            return Rails::of(algebra, level);
        }
        self.either(algebra, other.not(), other)
    }

    /// `then` where this is high, `otherwise` where it is low. Where both are the same, it does not matter which.
    pub(crate) fn choose<A: Algebra<Value = V>>(self, algebra: &mut A, then: Self, otherwise: Self) -> Self {
        if let (Some(c), Some(a), Some(b)) = (self.level(algebra), then.level(algebra), otherwise.level(algebra)) {
            let level = algebra.choose(c, a, b);
            return Rails::of(algebra, level);
        }
        self.either(algebra, then, otherwise)
    }

    fn either<A: Algebra<Value = V>>(self, algebra: &mut A, then: Self, otherwise: Self) -> Self {
        let [p, q, r, s] = [
            algebra.and(self.high, then.high),
            algebra.and(self.low, otherwise.high),
            algebra.and(self.high, then.low),
            algebra.and(self.low, otherwise.low),
        ];
        Rails { high: algebra.or(p, q), low: algebra.or(r, s) }
    }
}
