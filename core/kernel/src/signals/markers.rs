//! The words that stand in a field's type, and what each allows: one trait for each message that a user can get.
use super::derived::Unknown;
use super::fields::{Buried, InOut, Input, Output};
use super::level::{Assertion, Level};
use crate::circuit;

pub(super) mod sealed {
    pub trait Sealed {}
}

// Written out one by one: rustc shows the line when a user misspells a word.

/// Asserted while low.
#[derive(Clone, Copy, Debug)]
pub enum ActiveLow {}

/// Asserted while high.
#[derive(Clone, Copy, Debug)]
pub enum ActiveHigh {}

/// Neither level is asserted.
#[derive(Clone, Copy, Debug)]
pub enum Data {}

/// A clock: its edges matter, not its levels.
#[derive(Clone, Copy, Debug)]
pub enum Clock {}

/// Drives high or low at all times.
#[derive(Clone, Copy, Debug)]
pub enum PushPull {}

/// Drives high or low while enabled, floats while not.
#[derive(Clone, Copy, Debug)]
pub enum ThreeState {}

/// Pulls low or floats.
#[derive(Clone, Copy, Debug)]
pub enum OpenCollector {}

/// Acts on the edge of a clock.
#[derive(Clone, Copy, Debug)]
pub enum Register {}

/// Transparent while open.
#[derive(Clone, Copy, Debug)]
pub enum Latch {}

/// Combinational: a net with a name.
#[derive(Clone, Copy, Debug)]
pub enum Node {}

/// What a buried element has instead of a driver.
#[derive(Clone, Copy, Debug)]
pub enum NoPin {}

macro_rules! sealed {
    ($($word:ident)*) => {$(
        impl sealed::Sealed for $word {}
    )*};
}
sealed!(ActiveLow ActiveHigh Data Clock PushPull ThreeState OpenCollector Register Latch Node NoPin);

/// What a contact or an element carries.
#[diagnostic::on_unimplemented(
    message = "this does not say what a contact carries",
    label = "write ActiveLow, ActiveHigh, Data or Clock",
    note = "`{Self}` is something else; if you wrote one of these words, a type of your own has the same name: rename yours"
)]
pub trait Polarity: sealed::Sealed + 'static {
    #[doc(hidden)]
    const CARRIES: circuit::Polarity;
}

#[diagnostic::do_not_recommend]
impl Polarity for ActiveLow {
    const CARRIES: circuit::Polarity = circuit::Polarity::ActiveLow;
}
#[diagnostic::do_not_recommend]
impl Polarity for ActiveHigh {
    const CARRIES: circuit::Polarity = circuit::Polarity::ActiveHigh;
}
#[diagnostic::do_not_recommend]
impl Polarity for Data {
    const CARRIES: circuit::Polarity = circuit::Polarity::Data;
}
#[diagnostic::do_not_recommend]
impl Polarity for Clock {
    const CARRIES: circuit::Polarity = circuit::Polarity::Clock;
}

/// What a buried element holds.
#[diagnostic::on_unimplemented(
    message = "this does not say what a buried element holds",
    label = "write ActiveLow, ActiveHigh or Data, or nothing",
    note = "`{Self}` is something else; if you wrote one of these words, a type of your own has the same name: rename yours",
    note = "ThreeState, OpenCollector and PushPull speak of a pin, and a buried element has none"
)]
pub trait Inside: Polarity {}

#[diagnostic::do_not_recommend]
impl Inside for ActiveLow {}
#[diagnostic::do_not_recommend]
impl Inside for ActiveHigh {}
#[diagnostic::do_not_recommend]
impl Inside for Data {}
#[diagnostic::do_not_recommend]
impl Inside for Clock {}

/// Drives no pin.
#[diagnostic::on_unimplemented(
    message = "a buried element has no pin, so there is nothing to drive",
    label = "leave this out",
    note = "`{Self}` speaks of a pin: only an Output or an InOut has one"
)]
pub trait WithoutPin: sealed::Sealed + 'static {}

#[diagnostic::do_not_recommend]
impl WithoutPin for NoPin {}

/// How an output drives.
#[diagnostic::on_unimplemented(
    message = "this is not a way to drive a contact",
    label = "write PushPull, ThreeState or OpenCollector",
    note = "`{Self}` is something else; if you wrote one of these words, a type of your own has the same name: rename yours"
)]
pub trait Drive: sealed::Sealed + 'static {
    #[doc(hidden)]
    const STAGE: circuit::Stage;
}

#[diagnostic::do_not_recommend]
impl Drive for PushPull {
    const STAGE: circuit::Stage = circuit::Stage::PushPull;
}
#[diagnostic::do_not_recommend]
impl Drive for ThreeState {
    const STAGE: circuit::Stage = circuit::Stage::ThreeState;
}
#[diagnostic::do_not_recommend]
impl Drive for OpenCollector {
    const STAGE: circuit::Stage = circuit::Stage::OpenCollector;
}

/// Lets go of its contact, so that the other side can drive it.
#[diagnostic::on_unimplemented(
    message = "a contact that both sides drive must be able to let go of it",
    label = "write ThreeState or OpenCollector",
    note = "`{Self}` never does"
)]
pub trait LetsGo: Drive {}

#[diagnostic::do_not_recommend]
impl LetsGo for ThreeState {}
#[diagnostic::do_not_recommend]
impl LetsGo for OpenCollector {}

/// What a buried element is.
#[diagnostic::on_unimplemented(
    message = "this is not a kind of buried element",
    label = "write Register, Latch or Node",
    note = "`{Self}` is something else; if you wrote one of these words, a type of your own has the same name: rename yours"
)]
pub trait BuriedKind: sealed::Sealed + 'static {
    #[doc(hidden)]
    const HOLDS: bool;
}

#[diagnostic::do_not_recommend]
impl BuriedKind for Register {
    const HOLDS: bool = true;
}
#[diagnostic::do_not_recommend]
impl BuriedKind for Latch {
    const HOLDS: bool = true;
}
#[diagnostic::do_not_recommend]
impl BuriedKind for Node {
    const HOLDS: bool = false;
}

/// Holds a bit between its clock edges or while it is closed.
#[diagnostic::on_unimplemented(
    message = "a node holds nothing",
    label = "`{Self}` is only a net with a name",
    note = "its level is `.level()`; a condition that clears it belongs into what it follows",
    note = "declare it `Buried<Register>` or `Buried<Latch>` if it holds a bit"
)]
pub trait Holds {}

#[diagnostic::do_not_recommend]
impl Holds for Register {}
#[diagnostic::do_not_recommend]
impl Holds for Latch {}
#[diagnostic::do_not_recommend]
impl<K: Holds, P, D> Holds for Buried<K, P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> Holds for Output<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> Holds for InOut<P, D> {}

/// Has an asserted level.
#[diagnostic::on_unimplemented(
    message = "neither level of this is asserted",
    label = "`{Self}` has no asserted level",
    note = "declare it ActiveLow or ActiveHigh if one of its levels is",
    note = "data has `.level().is_high()` and `.level().is_low()`, a clock has `.rises()` and `.falls()`"
)]
pub trait Asserted: Polarity {
    #[doc(hidden)]
    const LOW: bool;
}

#[diagnostic::do_not_recommend]
impl Asserted for ActiveLow {
    const LOW: bool = true;
}
#[diagnostic::do_not_recommend]
impl Asserted for ActiveHigh {
    const LOW: bool = false;
}

/// Has a level that can be read.
#[diagnostic::on_unimplemented(
    message = "a clock is not data: it has moments, not levels",
    label = "`{Self}` can't be read as a level",
    note = "use `.rises()` or `.falls()`, or declare the contact Data if the circuit reads its level"
)]
pub trait Readable: Polarity {}

#[diagnostic::do_not_recommend]
impl Readable for ActiveLow {}
#[diagnostic::do_not_recommend]
impl Readable for ActiveHigh {}
#[diagnostic::do_not_recommend]
impl Readable for Data {}

/// Has a pin.
#[diagnostic::on_unimplemented(
    message = "a buried element cannot be given an output enable",
    label = "no pin belongs to this element",
    note = "leave `drive_while` out: only a contact declared ThreeState has a driver that can be turned off"
)]
pub trait HasPin {}

#[diagnostic::do_not_recommend]
impl<P, D> HasPin for Output<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> HasPin for InOut<P, D> {}

/// Has a driver that can be turned off.
#[diagnostic::on_unimplemented(
    message = "this output can't be given an output enable: it is not three-state",
    label = "`{Self}` can't be turned off",
    note = "declare the contact `Output<…, ThreeState>` if the original floats it",
    note = "an open collector pulls low while its level is low, and floats otherwise"
)]
pub trait CanFloat {}

#[diagnostic::do_not_recommend]
impl<P> CanFloat for Output<P, ThreeState> {}
#[diagnostic::do_not_recommend]
impl<P> CanFloat for InOut<P, ThreeState> {}
#[diagnostic::do_not_recommend]
impl<K, P, D> CanFloat for Buried<K, P, D> {} // `HasPin` words that mistake

/// Can be a register.
#[diagnostic::on_unimplemented(
    message = "this element is not a register, so it can't be clocked",
    label = "`{Self}` has no clock",
    note = "declare it `Buried<Register>`, or define it with `open_while(…).follow(…)` (latch) or `follow(…)` (gate)"
)]
pub trait CanClock {}

#[diagnostic::do_not_recommend]
impl<P, D> CanClock for Output<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanClock for InOut<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanClock for Buried<Register, P, D> {}

/// Can be a latch.
#[diagnostic::on_unimplemented(
    message = "this element is not a latch, so it can't be opened",
    label = "`{Self}` is never open",
    note = "declare it `Buried<Latch>`, or define it with `on(…).load(…)` (register) or `follow(…)` (gate)"
)]
pub trait CanOpen {}

#[diagnostic::do_not_recommend]
impl<P, D> CanOpen for Output<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanOpen for InOut<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanOpen for Buried<Latch, P, D> {}

/// Can be a gate.
#[diagnostic::on_unimplemented(
    message = "this element holds a state, so it can't just follow",
    label = "`{Self}` is not a gate",
    note = "define it with `on(…).load(…)` or `open_while(…).follow(…)`, or declare it `Buried<Node>`"
)]
pub trait CanFollow {}

#[diagnostic::do_not_recommend]
impl<P> CanFollow for Input<P> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanFollow for Output<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanFollow for InOut<P, D> {}
#[diagnostic::do_not_recommend]
impl<P, D> CanFollow for Buried<Node, P, D> {}

/// Takes a level.
#[diagnostic::on_unimplemented(
    message = "this element has an asserted level, so it takes conditions, not levels",
    label = "`{Self}` is asserted or released",
    note = "`release_while(…)` and `assert_while(…)` stand for clear and preset here: which is which depends on its polarity",
    note = "it starts with `starts_asserted()` or `starts_released()`"
)]
pub trait TakesLevel {}

#[diagnostic::do_not_recommend]
impl TakesLevel for Input<Data> {}
#[diagnostic::do_not_recommend]
impl TakesLevel for Input<Clock> {}
#[diagnostic::do_not_recommend]
impl<D> TakesLevel for Output<Data, D> {}
#[diagnostic::do_not_recommend]
impl<D> TakesLevel for Output<Clock, D> {}
#[diagnostic::do_not_recommend]
impl<D> TakesLevel for InOut<Data, D> {}
#[diagnostic::do_not_recommend]
impl<D> TakesLevel for InOut<Clock, D> {}
#[diagnostic::do_not_recommend]
impl<K, D> TakesLevel for Buried<K, Data, D> {}
#[diagnostic::do_not_recommend]
impl<K, D> TakesLevel for Buried<K, Clock, D> {}

/// Takes a condition.
#[diagnostic::on_unimplemented(
    message = "this element carries data: neither level of it is asserted",
    label = "`{Self}` takes levels, not conditions",
    note = "say which level: `high_while(…)` and `low_while(…)` make one of a condition",
    note = "`clear_while(…)` makes it low, `preset_while(…)` makes it high, and it starts with `starts_low()` or `starts_high()`"
)]
pub trait TakesCondition {}

#[diagnostic::do_not_recommend]
impl<P: Asserted> TakesCondition for Input<P> {}
#[diagnostic::do_not_recommend]
impl<P: Asserted, D> TakesCondition for Output<P, D> {}
#[diagnostic::do_not_recommend]
impl<P: Asserted, D> TakesCondition for InOut<P, D> {}
#[diagnostic::do_not_recommend]
impl<K, P: Asserted, D> TakesCondition for Buried<K, P, D> {}

/// What an element of kind `S` loads or follows.
#[diagnostic::on_unimplemented(
    message = "data takes a level, and an ActiveLow or ActiveHigh element takes a condition",
    label = "`{Self}` does not fit this element",
    note = "a contact has `.level()`, and `.asserted()` if it is ActiveLow or ActiveHigh",
    note = "a level becomes a condition with `.is_low()` or `.is_high()`",
    note = "a condition becomes a level with `high_while(…)` or `low_while(…)`"
)]
pub trait Fits<S> {
    #[doc(hidden)]
    fn value(self) -> super::define::Value;
}

#[diagnostic::do_not_recommend]
impl<S: TakesLevel> Fits<S> for Level {
    fn value(self) -> super::define::Value {
        super::define::Value::level(self)
    }
}
#[diagnostic::do_not_recommend]
impl<S: TakesCondition> Fits<S> for Assertion {
    fn value(self) -> super::define::Value {
        super::define::Value::condition(self)
    }
}

/// A register or a latch of which it is said already what it loads or follows.
#[diagnostic::on_unimplemented(
    message = "first comes what is loaded or followed, then what overrides it or drives the contact",
    label = "write this behind `.load(…)`, or behind `.follow(…)` of a latch",
    note = "`on(clock).load(level).clear_while(reset).drive_while(enabled)` is the order"
)]
pub trait SaysWhat {}

/// Says what drives something: a definition, or the inputs of a circuit inside.
#[diagnostic::on_unimplemented(
    message = "a definition is needed here",
    label = "`{Self}` is none",
    note = "a gate is written `follow(level)` or `assert_while(condition)`, a register `on(clock).load(…)`, a latch `open_while(…).follow(…)`"
)]
pub trait Defines {}

#[diagnostic::do_not_recommend]
impl<S> Defines for super::Definition<S> {}

/// Can be the same wire as `S`.
#[diagnostic::on_unimplemented(
    message = "these two can't be one wire: they don't carry the same, or don't drive the same way",
    label = "`{Self}` is not what stands at the other end",
    note = "an input of a circuit inside takes what carries the same; a contact takes an output of a circuit inside with the same words",
    note = "say what it means otherwise: `follow(level)`, `assert_while(condition)`"
)]
pub trait WiresTo<S> {
    #[doc(hidden)]
    fn wire(self) -> super::arena::SlotId;
}

macro_rules! wires {
    ($([$($word:ident)*] $from:ty => $to:ty;)*) => {$(
        #[diagnostic::do_not_recommend]
        impl<$($word),*> WiresTo<$to> for $from {
            fn wire(self) -> super::arena::SlotId {
                self.0
            }
        }
    )*};
}
wires! {
    [P] Input<P> => Input<P>;
    [P D] Output<P, D> => Input<P>;
    [P D] InOut<P, D> => Input<P>;
    [K P] Buried<K, P> => Input<P>;
    [P D] Output<P, D> => Output<P, D>;
    [P D] Output<P, D> => InOut<P, D>;
    [P D] InOut<P, D> => InOut<P, D>;
}

/// Gives each element of an array its definition.
#[diagnostic::on_unimplemented(
    message = "`each` makes one definition for each element: write `each(|i| …)`",
    label = "this is not a closure that makes a definition of the element's place",
    note = "`each(|i| on(clock).load(self.gauge[i].level()))`; where all are alike, `each(|_| …)`"
)]
pub trait ForEach<D>: FnMut(usize) -> D {}

#[diagnostic::do_not_recommend]
impl<D: Defines, F: FnMut(usize) -> D> ForEach<D> for F {}

macro_rules! unknown_can_do_everything {
    ($($able:ident)*) => {$(
        #[diagnostic::do_not_recommend]
        impl $able for Unknown {}
    )*};
}
unknown_can_do_everything!(HasPin CanFloat CanClock CanOpen CanFollow Holds TakesLevel TakesCondition);
