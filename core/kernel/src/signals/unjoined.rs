//! What `&`, `|`, `^` and `!` say of a contact, an element or a level: it is no condition yet. Nothing here ever compiles in a
//! circuit; it is there for the message.
//!
//! The operators exist with a bound on their right side that nothing meets. rustc chooses the operator before it knows the
//! right side, so that the bound is what it reports, in its words, and once: what comes out fits everywhere.
use std::marker::PhantomData;
use std::ops::{BitAnd, BitOr, BitXor, Not};

use super::define::Value;
use super::fields::{Buried, InOut, Input, Output};
use super::level::{Assertion, Condition, Level, sealed};
use super::markers::Fits;

/// May stand on the right of something that is no condition: nothing may.
#[diagnostic::on_unimplemented(
    message = "a condition is needed on the left, and this doesn't say which level asserts it",
    label = "`{L}` stands on the left, and is not a condition",
    note = "a contact that is ActiveLow or ActiveHigh has `.asserted()`: `self.reset.asserted() & …`",
    note = "a level has `.is_low()` and `.is_high()`: `self.a.level().is_high() & …`, `self.seen.q().is_high() & …`"
)]
pub trait JoinsWith<L> {
    #[doc(hidden)]
    fn joined(self) -> Joined;
}

/// What would come out if it could be joined: it fits everywhere, so that one mistake is one error. There is none.
#[doc(hidden)]
#[derive(Clone, Copy, Debug)]
pub enum Joined {}

/// What comes out of a `!` before something that is no condition: it is none either.
#[doc(hidden)]
#[derive(Clone, Copy, Debug)]
pub struct Inverted<S>(PhantomData<S>);

macro_rules! unjoined {
    ($([$($word:ident)*] $left:ty;)*) => {$(
        impl<R: JoinsWith<$left>, $($word),*> BitAnd<R> for $left {
            type Output = Joined;
            fn bitand(self, other: R) -> Joined {
                other.joined()
            }
        }

        impl<R: JoinsWith<$left>, $($word),*> BitOr<R> for $left {
            type Output = Joined;
            fn bitor(self, other: R) -> Joined {
                other.joined()
            }
        }

        impl<R: JoinsWith<$left>, $($word),*> BitXor<R> for $left {
            type Output = Joined;
            fn bitxor(self, other: R) -> Joined {
                other.joined()
            }
        }
    )*};
}
unjoined! {
    [P] Input<P>;
    [P D] Output<P, D>;
    [P D] InOut<P, D>;
    [K P D] Buried<K, P, D>;
    [] Level;
    [S] Inverted<S>;
}

macro_rules! not_yet {
    ($([$($word:ident)*] $of:ty;)*) => {$(
        #[diagnostic::do_not_recommend]
        impl<$($word),*> Not for $of {
            type Output = Inverted<$of>;
            fn not(self) -> Inverted<$of> {
                Inverted(PhantomData)
            }
        }
    )*};
}
not_yet! {
    [P] Input<P>;
    [P D] Output<P, D>;
    [P D] InOut<P, D>;
    [K P D] Buried<K, P, D>;
}

macro_rules! fits_everywhere {
    ($($operator:ident $method:ident)*) => {$(
        #[diagnostic::do_not_recommend]
        impl<R> $operator<R> for Joined {
            type Output = Joined;
            fn $method(self, _: R) -> Joined {
                self
            }
        }
    )*};
}
fits_everywhere!(BitAnd bitand BitOr bitor BitXor bitxor);

#[diagnostic::do_not_recommend]
impl Not for Joined {
    type Output = Joined;
    fn not(self) -> Joined {
        self
    }
}

impl sealed::Sealed for Joined {}

#[diagnostic::do_not_recommend]
impl Condition for Joined {
    fn truth(self) -> Assertion {
        match self {}
    }
}

#[diagnostic::do_not_recommend]
impl<S> Fits<S> for Joined {
    fn value(self) -> Value {
        match self {}
    }
}

#[doc(hidden)]
#[allow(missing_docs)]
impl Joined {
    pub fn is_high(self) -> Assertion {
        match self {}
    }

    pub fn is_low(self) -> Assertion {
        match self {}
    }

    pub fn begins(self) -> super::Edge {
        match self {}
    }

    pub fn ends(self) -> super::Edge {
        match self {}
    }

    pub fn rises(self) -> super::Edge {
        match self {}
    }

    pub fn falls(self) -> super::Edge {
        match self {}
    }
}
