//! The types of a circuit's fields, and what can be read from them.
use std::fmt;
use std::marker::PhantomData;

use super::arena::{Side, SlotId, is_turned, read};
use super::level::{Assertion, Edge, Level};
use super::markers::{Data, Holds, NoPin, PushPull, ThreeState};
use super::misplaced::{HasTruth, MayBeRead};

/// A contact that the board drives and the circuit reads.
pub struct Input<P>(pub(super) SlotId, PhantomData<P>);

/// A contact that the circuit drives. Reading it gives what the circuit would drive, also while the driver is off.
pub struct Output<P, D = PushPull>(pub(super) SlotId, PhantomData<(P, D)>);

/// A contact that both sides drive, one after the other. Reading it gives the level on the wire;
/// [`held`](InOut::held) gives what the circuit would drive.
pub struct InOut<P, D = ThreeState>(pub(super) SlotId, PhantomData<(P, D)>);

/// An element without a pin: a [`Register`](super::Register), a [`Latch`](super::Latch) or a [`Node`](super::Node).
/// `D` is never written: nothing drives a pin that isn't there.
pub struct Buried<K, P = Data, D = NoPin>(pub(super) SlotId, PhantomData<(K, P, D)>);

// `level` and `asserted` are written out for each: rustc shows their lines with its errors.
macro_rules! field {
    ($field:ident<$($word:ident),*>, $side:expr) => {
        impl<$($word),*> $field<$($word),*> {
            pub(super) fn at(slot: SlotId) -> Self {
                $field(slot, PhantomData)
            }

            /// When its level goes from low to high.
            #[track_caller]
            pub fn rises(self) -> Edge {
                Level(read(self.0, $side)).rises()
            }

            /// When its level goes from high to low.
            #[track_caller]
            pub fn falls(self) -> Edge {
                Level(read(self.0, $side)).falls()
            }
        }

        impl<$($word),*> Clone for $field<$($word),*> {
            fn clone(&self) -> Self {
                *self
            }
        }

        impl<$($word),*> Copy for $field<$($word),*> {}

        impl<$($word),*> fmt::Debug for $field<$($word),*> {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.debug_tuple(stringify!($field)).field(&self.0).finish()
            }
        }
    };
}

field!(Input<P>, Side::Wire);
field!(Output<P, D>, Side::Own);
field!(InOut<P, D>, Side::Wire);
field!(Buried<K, P, D>, Side::Own);

/// True while the level is the asserted one.
#[track_caller]
fn asserted<P: HasTruth>(slot: SlotId, side: Side) -> Assertion {
    let level = Level(read(slot, side));
    if P::LOW != is_turned(slot) { level.is_low() } else { level.is_high() }
}

impl<P> Input<P> {
    /// The level on the wire.
    #[track_caller]
    pub fn level(self) -> Level
    where
        P: MayBeRead,
    {
        Level(read(self.0, Side::Wire))
    }

    /// True while the wire has the asserted level.
    #[track_caller]
    pub fn asserted(self) -> Assertion
    where
        P: HasTruth,
    {
        asserted::<P>(self.0, Side::Wire)
    }
}

impl<P, D> Output<P, D> {
    /// The level that the circuit drives, or would drive while it floats the contact.
    #[track_caller]
    pub fn level(self) -> Level
    where
        P: MayBeRead,
    {
        Level(read(self.0, Side::Own))
    }

    /// True while the circuit asserts it, or would if it drove the contact.
    #[track_caller]
    pub fn asserted(self) -> Assertion
    where
        P: HasTruth,
    {
        asserted::<P>(self.0, Side::Own)
    }

    /// The same as [`level`](Output::level); for an [`InOut`] the two differ.
    #[track_caller]
    pub fn held(self) -> Level
    where
        P: MayBeRead,
    {
        Level(read(self.0, Side::Own))
    }
}

impl<P, D> InOut<P, D> {
    /// The level on the wire, whoever drives it.
    #[track_caller]
    pub fn level(self) -> Level
    where
        P: MayBeRead,
    {
        Level(read(self.0, Side::Wire))
    }

    /// True while the wire has the asserted level, whoever drives it.
    #[track_caller]
    pub fn asserted(self) -> Assertion
    where
        P: HasTruth,
    {
        asserted::<P>(self.0, Side::Wire)
    }

    /// The level that the circuit drives, or would drive while it floats the contact, whatever is on the wire.
    #[track_caller]
    pub fn held(self) -> Level
    where
        P: MayBeRead,
    {
        Level(read(self.0, Side::Own))
    }
}

impl<K, P, D> Buried<K, P, D> {
    /// The level that the element holds, or the level of the node.
    #[track_caller]
    pub fn level(self) -> Level
    where
        P: MayBeRead,
    {
        Level(read(self.0, Side::Own))
    }

    /// True while the element holds its asserted level, or the node has it.
    #[track_caller]
    pub fn asserted(self) -> Assertion
    where
        P: HasTruth,
    {
        asserted::<P>(self.0, Side::Own)
    }

    /// The level of its output Q.
    #[track_caller]
    pub fn q(self) -> Level
    where
        K: Holds,
    {
        Level(read(self.0, Side::Own))
    }

    /// The level of its complementary output: not Q, except that both are high while clear and preset are both
    /// asserted.
    #[track_caller]
    pub fn q_inverted(self) -> Level
    where
        K: Holds,
    {
        Level(read(self.0, Side::OwnInverted))
    }
}
