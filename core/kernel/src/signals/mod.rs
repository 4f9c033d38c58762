//! The typed surface: what a user writes, and how it becomes a circuit.
//!
//! A circuit is a struct with `#[derive(Circuit)]`, one field for each contact and each buried element, and an
//! [`impl Wiring`](Wiring) that says what drives each output. [`build`] makes a [`circuit::Circuit`] of it. What rustc says
//! when a wiring is wrong, and can't say well, is explained in [`messages`].
//!
//! ```
//! # extern crate gluewright_kernel as gluewright;
//! use gluewright::prelude::*;
//!
//! /// Answers a read while the strobe is there, and remembers that it was.
//! #[derive(Circuit)]
//! struct Answer {
//!     #[contact(1)]
//!     clock: Input<Clock>,
//!     #[contact(2)]
//!     read: Input<ActiveLow>,
//!     #[contact(3)]
//!     strobe: Input<ActiveHigh>,
//!     #[contact("A7")]
//!     ready: Output<ActiveLow, OpenCollector>,
//!     asked: Buried<Register>,
//! }
//!
//! impl Wiring for Answer {
//!     fn wire(&self) -> AnswerWiring {
//!         let reading = self.read.asserted() & self.strobe.asserted();
//!         AnswerWiring {
//!             asked: on(self.clock.rises()).load(high_while(reading)),
//!             ready: assert_while(reading | self.asked.q().is_high()),
//!         }
//!     }
//! }
//!
//! let circuit = gluewright::circuit_of::<Answer>()?;
//! assert_eq!((circuit.contacts().len(), circuit.elements().len()), (4, 1));
//! # Ok::<(), gluewright::BuildError>(())
//! ```
mod arena;
mod define;
#[doc(hidden)]
pub mod derived;
mod driven;
mod error;
mod fields;
mod inside;
mod level;
mod lower;
mod markers;
pub mod messages;
mod misplaced;
mod parameters;
mod source;
mod stopped;
mod traced;
mod unjoined;
mod word;

#[doc(hidden)]
pub use arena::{Quiet, number, quietly};
pub use define::{Clocked, Definition, Opened, assert_while, each, follow, on, open_while, wired_to};
pub use driven::{Drives, drives};
pub use error::{BuildError, Mistake};
pub use fields::{Buried, InOut, Input, Output};
pub use gluewright_macros::{Circuit, circuit, contact, contacts};
#[doc(hidden)]
pub use level::given;
pub use level::{Assertion, Choosable, Condition, Edge, Level, Moment, all_of, any_of, choose, high_while, low_while};
pub use markers::{
    ActiveHigh, ActiveLow, Asserted, BuriedKind, CanClock, CanFloat, CanFollow, CanOpen, Clock, Data, Defines, Drive,
    Fits, ForEach, HasPin, Holds, Inside, Latch, LetsGo, NoPin, Node, OpenCollector, Polarity, PushPull, Readable,
    Register, SaysWhat, TakesCondition, TakesLevel, ThreeState, WiresTo, WithoutPin,
};
#[doc(hidden)]
pub use misplaced::{HasTruth, MayBeRead};
pub(crate) use parameters::{Given, give};
pub(crate) use source::Parameters;
// public: mends build a source again with one place turned
pub use source::{Operand, Operator, Order, Source, Stands, Turn, Turnable, other};
pub use traced::{Traced, over};
#[doc(hidden)]
pub use unjoined::{Inverted, Joined, JoinsWith};
pub use word::{HasLevel, Word};

use crate::circuit;
use source::Plan;

/// A struct that describes a circuit by its contacts and buried elements. `#[derive(Circuit)]` implements it.
#[diagnostic::on_unimplemented(
    message = "`{Self}` is not a circuit",
    label = "not a circuit",
    note = "write #[derive(Circuit)] above the struct"
)]
pub trait Circuit: Sized {
    /// The struct that [`wire`](Wiring::wire) fills: one field for each output and each buried element.
    type Wiring;
    /// The struct that an outer circuit fills for one of this type inside it: one field for each input.
    type Inputs;
    /// The values that its wiring is made with: a struct with a field for each `#[parameter]`, or nothing.
    type Parameters: Clone + 'static;
    /// The circuit's name: the part's type number if it has one, else the struct's name in small letters.
    const NAME: &'static str;
    /// The name with its widths: a `Counter<4>` is a `counter_4`.
    #[doc(hidden)]
    fn full_name() -> String {
        Self::NAME.to_owned()
    }
    #[doc(hidden)]
    fn declare(declaration: &mut derived::Declaration) -> Self;
    #[doc(hidden)]
    fn feed(&self, inputs: Self::Inputs, definitions: &mut derived::Definitions);
    #[doc(hidden)]
    fn define(&self, wiring: Self::Wiring, definitions: &mut derived::Definitions);
}

/// What drives each output and each buried element of a circuit.
#[diagnostic::on_unimplemented(
    message = "nothing says what drives the outputs of `{Self}`",
    label = "no wiring",
    note = "write `impl Wiring for {Self}` with its `fn wire(&self)`"
)]
pub trait Wiring: Circuit {
    /// Says what drives each output and each buried element.
    fn wire(&self) -> Self::Wiring;
}

/// The circuit that a struct and its wiring describe.
///
/// # Errors
/// Everything in the wiring that compiles and still can't be right, with file and line.
pub fn build<C: Wiring>() -> Result<circuit::Circuit, BuildError> {
    build_with::<C, ()>(|_| ()).map(|(circuit, ())| circuit)
}

/// The circuit that a struct and its wiring describe with these parameters: one source, and as many circuits as there are
/// values.
///
/// # Errors
/// As [`build`].
pub fn build_for<C: Wiring>(parameters: C::Parameters) -> Result<circuit::Circuit, BuildError> {
    let _given = give::<C>(parameters);
    build::<C>()
}

/// The circuit that a struct and its wiring describe, and what `also` makes of its fields while it is built:
/// conditions that bear on it, for instance, by their [`expression`](Assertion::expression) in the circuit.
///
/// # Errors
/// Everything in the wiring, or in `also`, that compiles and still can't be right, with file and line.
pub fn build_with<C: Wiring, T>(also: impl FnOnce(&C) -> T) -> Result<(circuit::Circuit, T), BuildError> {
    turned::<C, T>(Plan::Turned(&[]), also).map(|(circuit, _, made)| (circuit, made))
}

/// The name of a field of a circuit, by a closure that takes it; nothing if what it gives is none.
pub(crate) fn name_of<C: Circuit, F: derived::Field>(field: impl FnOnce(&C) -> F) -> Option<String> {
    let _open = arena::Open::new(C::NAME, Plan::Turned(&[]));
    let slot = stopped::caught(|| field(&C::declare(&mut derived::Declaration::new())).slot()).ok()?;
    arena::name(slot)
}

/// The same for what is planned, and everything of the source that could be taken otherwise.
fn turned<C: Wiring, T>(
    plan: Plan<'_>,
    also: impl FnOnce(&C) -> T,
) -> Result<(circuit::Circuit, Vec<Turnable>, T), BuildError> {
    let open = arena::Open::new(&C::full_name(), plan);
    if !parameters::are_given::<C>() {
        return Err(open.stop(Mistake::NoParameters { circuit: C::full_name() }));
    }
    let described = stopped::caught(|| {
        let fields = C::declare(&mut derived::Declaration::new());
        let wiring = fields.wire();
        fields.define(wiring, &mut derived::Definitions::new());
        arena::innermost(arena::Build::wired);
        also(&fields)
    });
    match described {
        Ok(made) => open.close().map(|(circuit, places)| (circuit, places, made)),
        Err(mistake) => Err(open.stop(mistake)),
    }
}
