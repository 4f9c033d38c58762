//! Words of a declaration in each other's place, `Buried<ActiveHigh, Register>`: the declaration reports it, and nothing here
//! lets it through; what reads the field takes them, so that it is one error.
use super::markers::{ActiveHigh, ActiveLow, Asserted, Data, Holds, Latch, Node, Readable, Register};

/// May be asked whether it is asserted: what has an asserted level, and the words that stand in its place by mistake, which
/// the declaration reports.
#[doc(hidden)]
#[diagnostic::on_unimplemented(
    message = "neither level of this is asserted",
    label = "`{Self}` has no asserted level",
    note = "declare it ActiveLow or ActiveHigh if one of its levels is",
    note = "data has `.level().is_high()` and `.level().is_low()`, a clock has `.rises()` and `.falls()`"
)]
pub trait HasTruth {
    #[doc(hidden)]
    const LOW: bool;
}

#[diagnostic::do_not_recommend]
impl<P: Asserted> HasTruth for P {
    const LOW: bool = <P as Asserted>::LOW;
}

/// May be asked for its level: what has one that can be read, and the words that stand in its place by mistake, which the
/// declaration reports.
#[doc(hidden)]
#[diagnostic::on_unimplemented(
    message = "a clock is not data: it has moments, not levels",
    label = "`{Self}` can't be read as a level",
    note = "use `.rises()` or `.falls()`, or declare the contact Data if the circuit reads its level"
)]
pub trait MayBeRead {}

#[diagnostic::do_not_recommend]
impl<P: Readable> MayBeRead for P {}

// Words of a declaration that stand in each other's place: it is reported there, and not again where the field is read.
macro_rules! in_the_wrong_place {
    (kinds: $($kind:ident)*; polarities: $($polarity:ident)*) => {
        $(
            #[diagnostic::do_not_recommend]
            impl HasTruth for $kind {
                const LOW: bool = false;
            }
            #[diagnostic::do_not_recommend]
            impl MayBeRead for $kind {}
        )*
        $(
            #[diagnostic::do_not_recommend]
            impl Holds for $polarity {}
        )*
    };
}
in_the_wrong_place!(kinds: Register Latch Node; polarities: ActiveLow ActiveHigh Data);
