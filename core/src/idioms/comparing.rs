//! Comparators that can be put in a row.
use gluewright_kernel::signals::{Assertion, Word, choose};

/// How one number stands to another: one of the three is true.
#[derive(Clone, Copy, Debug)]
#[must_use = "a comparison does nothing until something is defined by it"]
pub struct Compared {
    /// The first number is the smaller one.
    pub less: Assertion,
    /// Both are the same.
    pub equal: Assertion,
    /// The first number is the larger one.
    pub greater: Assertion,
}

/// Compares two numbers. Of two that are compared by the same means, [`Word::less_than`] and its kin say less and take less.
#[track_caller]
pub fn compared<const N: usize>(this: Word<N>, other: Word<N>) -> Compared {
    Compared { less: this.less_than(other), equal: this.equals(other), greater: this.greater_than(other) }
}

impl Compared {
    /// The same for longer numbers: `lower` decides while these upper bits are the same.
    #[track_caller]
    pub fn then(self, lower: Compared) -> Compared {
        Compared {
            less: choose(self.equal, lower.less, self.less),
            equal: self.equal & lower.equal,
            greater: choose(self.equal, lower.greater, self.greater),
        }
    }
}
