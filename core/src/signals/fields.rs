//! The types of a circuit's fields, and what can be read from them.
use std::fmt;
use std::marker::PhantomData;

use super::arena::{Side, SlotId, read};
use super::level::{Assertion, Edge, Level};
use super::markers::{Asserted, Data, Holds, PushPull, Readable, ThreeState};

/// A contact that the board drives and the circuit reads.
pub struct Input<P>(pub(super) SlotId, PhantomData<P>);

/// A contact that the circuit drives. Reading it gives what the circuit would drive, also while the driver is off.
pub struct Output<P, D = PushPull>(pub(super) SlotId, PhantomData<(P, D)>);

/// A contact that both sides drive, one after the other. Reading it gives the level on the wire;
/// [`held`](InOut::held) gives what the circuit would drive.
pub struct InOut<P, D = ThreeState>(pub(super) SlotId, PhantomData<(P, D)>);

/// An element without a pin: a [`Register`](super::Register), a [`Latch`](super::Latch) or a [`Node`](super::Node).
pub struct Buried<K, P = Data>(pub(super) SlotId, PhantomData<(K, P)>);

macro_rules! field {
    ($field:ident<$($word:ident),*>, $side:expr, $what:literal) => {
        impl<$($word),*> $field<$($word),*> {
            pub(super) fn at(slot: SlotId) -> Self {
                $field(slot, PhantomData)
            }

            #[doc = concat!("The level ", $what, ".")]
            #[track_caller]
            pub fn level(self) -> Level
            where
                P: Readable,
            {
                Level(read(self.0, $side))
            }

            #[doc = concat!("True while the asserted level is the one ", $what, ".")]
            #[track_caller]
            pub fn asserted(self) -> Assertion
            where
                P: Asserted,
            {
                let level = Level(read(self.0, $side));
                if P::LOW { level.is_low() } else { level.is_high() }
            }

            #[doc = concat!("When the level ", $what, " goes from low to high.")]
            #[track_caller]
            pub fn rises(self) -> Edge {
                Level(read(self.0, $side)).rises()
            }

            #[doc = concat!("When the level ", $what, " goes from high to low.")]
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

field!(Input<P>, Side::Wire, "on the wire");
field!(Output<P, D>, Side::Own, "that the circuit drives, or would drive while it floats the contact");
field!(InOut<P, D>, Side::Wire, "on the wire");
field!(Buried<K, P>, Side::Own, "that the element holds");

impl<P, D> Output<P, D> {
    /// The level that the circuit drives, or would drive while it floats the contact: the same as
    /// [`level`](Output::level).
    #[track_caller]
    pub fn held(self) -> Level
    where
        P: Readable,
    {
        self.level()
    }
}

impl<P, D> InOut<P, D> {
    /// The level that the circuit drives, or would drive while it floats the contact, whatever is on the wire.
    #[track_caller]
    pub fn held(self) -> Level
    where
        P: Readable,
    {
        Level(read(self.0, Side::Own))
    }
}

impl<K: Holds, P> Buried<K, P> {
    /// The level of its output Q.
    #[track_caller]
    pub fn q(self) -> Level {
        Level(read(self.0, Side::Own))
    }

    /// The level of its complementary output: not Q, except that both are high while clear and preset are both
    /// asserted.
    #[track_caller]
    pub fn q_inverted(self) -> Level {
        Level(read(self.0, Side::OwnInverted))
    }
}
