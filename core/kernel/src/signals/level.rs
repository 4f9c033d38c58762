//! Levels, conditions and edges: what a wiring computes with.
use std::ops::{BitAnd, BitOr, BitXor, Not};

use super::arena::{self, Id, combine, edge, joined, quietly, said};
use super::source::Operator;
use crate::circuit::Expr;

/// What a meter reads on a wire: high or low. It doesn't say what that means.
#[derive(Clone, Copy, Debug)]
#[must_use = "a level does nothing until something is defined by it"]
pub struct Level(pub(super) Id);

/// The truth of a condition.
#[derive(Clone, Copy, Debug)]
#[must_use = "a condition does nothing until something is defined by it"]
pub struct Assertion(pub(super) Id);

/// A moment: something rises or falls, begins or ends.
#[derive(Clone, Copy, Debug)]
#[must_use = "an edge does nothing until a register acts on it"]
pub struct Edge(pub(super) Id);

/// Something that can be true or false.
#[diagnostic::on_unimplemented(
    message = "a condition is needed here, and this doesn't say which level asserts it",
    label = "`{Self}` is not a condition",
    note = "a contact that is ActiveLow or ActiveHigh has `.asserted()`",
    note = "a level has `.is_low()` and `.is_high()`",
    note = "`!` stands before a condition: `!self.reset.asserted()`",
    note = "conditions are joined with `&`, `|`, `^` and `!`, not with `&&`, `||` or `==`"
)]
pub trait Condition: sealed::Sealed {
    #[doc(hidden)]
    fn truth(self) -> Assertion;
}

/// A rise or a fall.
#[diagnostic::on_unimplemented(
    message = "a register needs a rise or a fall to act on",
    label = "`{Self}` is not an edge",
    note = "a clock and a level have `.rises()` and `.falls()`",
    note = "a condition has `.begins()` and `.ends()`"
)]
pub trait Moment: sealed::Sealed {
    #[doc(hidden)]
    fn edge(self) -> Edge;
}

/// Something that a multiplexer can choose between.
#[diagnostic::on_unimplemented(
    message = "a multiplexer chooses between levels, words or conditions",
    label = "`{Self}` is none of them",
    note = "a contact has `.level()`, an array of contacts becomes a word with `Word::of(…)`"
)]
pub trait Choosable: sealed::Sealed + Copy {
    /// What stands where there is nothing to choose.
    #[doc(hidden)]
    const NOTHING: Self;
    #[doc(hidden)]
    fn chosen(when: Assertion, this: Self, other: Self) -> Self;
}

pub(super) mod sealed {
    pub trait Sealed {}
    impl Sealed for super::Assertion {}
    impl Sealed for super::Level {}
    impl Sealed for super::Edge {}
}

#[diagnostic::do_not_recommend]
impl Condition for Assertion {
    fn truth(self) -> Assertion {
        self
    }
}

#[diagnostic::do_not_recommend]
impl Moment for Edge {
    fn edge(self) -> Edge {
        self
    }
}

#[diagnostic::do_not_recommend]
impl Choosable for Level {
    const NOTHING: Self = Level::LOW;
    #[track_caller]
    fn chosen(when: Assertion, this: Self, other: Self) -> Self {
        Level(combine([when.0, this.0, other.0], |c, [w, a, b]| c.choose(w, a, b)))
    }
}

#[diagnostic::do_not_recommend]
impl Choosable for Assertion {
    const NOTHING: Self = Assertion::NEVER;
    #[track_caller]
    fn chosen(when: Assertion, this: Self, other: Self) -> Self {
        Assertion(combine([when.0, this.0, other.0], |c, [w, a, b]| c.choose(w, a, b)))
    }
}

/// `this` while the condition is true, `other` while it is not: a multiplexer, for levels, words and conditions.
#[track_caller]
pub fn choose<T: Choosable>(when: impl Condition, this: T, other: T) -> T {
    T::chosen(given(when, 0), this, other)
}

/// The condition that is given to an idiom, by its place among those that it takes: a place of the source of whoever uses it.
#[doc(hidden)]
#[track_caller]
pub fn given(condition: impl Condition, place: u8) -> Assertion {
    Assertion(arena::given(condition.truth().0, place))
}

/// A level that is high while the condition is true.
#[track_caller]
pub fn high_while(condition: impl Condition) -> Level {
    Level(condition.truth().0)
}

/// A level that is low while the condition is true.
#[track_caller]
pub fn low_while(condition: impl Condition) -> Level {
    Level((!condition.truth()).0)
}

/// True while all of these are; also if there are none.
#[track_caller]
pub fn all_of(conditions: impl IntoIterator<Item = impl Condition>) -> Assertion {
    let mut all = Assertion::ALWAYS;
    for condition in conditions {
        let _quiet = quietly();
        all = all & condition;
    }
    Assertion(said(all.0))
}

/// True while at least one of these is.
#[track_caller]
pub fn any_of(conditions: impl IntoIterator<Item = impl Condition>) -> Assertion {
    let mut any = Assertion::NEVER;
    for condition in conditions {
        let _quiet = quietly();
        any = any | condition;
    }
    Assertion(said(any.0))
}

impl Level {
    /// Always low: tied to ground.
    pub const LOW: Level = Level(Id::LOW);
    /// Always high: tied to the positive supply.
    pub const HIGH: Level = Level(Id::HIGH);

    /// True while this is low.
    #[track_caller]
    pub fn is_low(self) -> Assertion {
        Assertion((!self).0)
    }

    /// True while this is high.
    #[track_caller]
    pub fn is_high(self) -> Assertion {
        Assertion(said(self.0))
    }

    /// When it goes from low to high.
    #[track_caller]
    pub fn rises(self) -> Edge {
        Edge(edge(self.0, true))
    }

    /// When it goes from high to low.
    #[track_caller]
    pub fn falls(self) -> Edge {
        Edge(edge(self.0, false))
    }

    /// True while one of the two is high and the other low.
    #[track_caller]
    pub fn differs_from(self, other: Level) -> Assertion {
        let differs = {
            let _quiet = quietly();
            self.is_high() ^ other.is_high()
        };
        Assertion(said(differs.0))
    }

    /// True while both are high or both are low.
    #[track_caller]
    pub fn same_as(self, other: Level) -> Assertion {
        let same = {
            let _quiet = quietly();
            !self.differs_from(other)
        };
        Assertion(said(same.0))
    }

    /// The level as an expression of the circuit that is being built, for what reads circuits; low while none is.
    #[track_caller]
    pub fn expression(self) -> Expr {
        arena::expression(self.0)
    }
}

impl Assertion {
    /// A condition that is always true.
    pub const ALWAYS: Assertion = Assertion(Id::HIGH);
    /// A condition that is never true.
    pub const NEVER: Assertion = Assertion(Id::LOW);

    /// When it becomes true.
    #[track_caller]
    pub fn begins(self) -> Edge {
        Edge(edge(self.0, true))
    }

    /// When it becomes false.
    #[track_caller]
    pub fn ends(self) -> Edge {
        Edge(edge(self.0, false))
    }

    /// The condition as an expression of the circuit that is being built, for what reads circuits; low while none is.
    #[track_caller]
    pub fn expression(self) -> Expr {
        arena::expression(self.0)
    }
}

impl Edge {
    /// What goes from low to high at the edge, as an expression of the circuit that is being built.
    #[track_caller]
    pub(crate) fn expression(self) -> Expr {
        arena::expression(self.0)
    }
}

impl<R: Condition> BitAnd<R> for Assertion {
    type Output = Assertion;
    #[track_caller]
    fn bitand(self, other: R) -> Assertion {
        Assertion(joined([self.0, other.truth().0], Operator::And))
    }
}

impl<R: Condition> BitOr<R> for Assertion {
    type Output = Assertion;
    #[track_caller]
    fn bitor(self, other: R) -> Assertion {
        Assertion(joined([self.0, other.truth().0], Operator::Or))
    }
}

impl<R: Condition> BitXor<R> for Assertion {
    type Output = Assertion;
    #[track_caller]
    fn bitxor(self, other: R) -> Assertion {
        Assertion(joined([self.0, other.truth().0], Operator::Xor))
    }
}

impl Not for Assertion {
    type Output = Assertion;
    #[track_caller]
    fn not(self) -> Assertion {
        Assertion(said(combine([self.0], |c, [a]| c.not(a))))
    }
}

impl Not for Level {
    type Output = Level;
    #[track_caller]
    fn not(self) -> Level {
        Level(said(combine([self.0], |c, [a]| c.not(a))))
    }
}
