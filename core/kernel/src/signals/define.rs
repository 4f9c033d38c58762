//! Definitions: what drives an output or a buried element.
use std::fmt;
use std::marker::PhantomData;
use std::panic::Location;

use super::arena::{Id, SlotId};
use super::level::{Assertion, Condition, Edge, Level, Moment, given};
use super::markers::{
    CanClock, CanFloat, CanFollow, CanOpen, Fits, ForEach, HasPin, Holds, SaysWhat, TakesCondition, TakesLevel, WiresTo,
};

/// What drives an element of the type `S`. It does nothing until it fills a field of the wiring.
#[must_use = "a definition does nothing until it fills a field of the wiring"]
pub struct Definition<S> {
    pub(super) recipe: Recipe,
    of: PhantomData<fn() -> S>,
}

impl<S> fmt::Debug for Definition<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Definition").field(&self.recipe).finish()
    }
}

/// A register that waits for what it does on its edge. It becomes a definition with `load` or one of its kin.
#[derive(Clone, Copy, Debug)]
#[must_use = "say what happens on the edge: `.load(…)`"]
pub struct Clocked<W = Waits> {
    at: &'static Location<'static>,
    edge: Edge,
    waits: PhantomData<W>,
}

/// Nobody has said yet what is loaded or followed.
#[doc(hidden)]
#[derive(Clone, Copy, Debug)]
pub enum Waits {}

/// A latch that waits for what it follows. It becomes a definition with `follow`.
#[derive(Clone, Copy, Debug)]
#[must_use = "say what the latch follows: `.follow(…)`"]
pub struct Opened<W = Waits> {
    at: &'static Location<'static>,
    open: Assertion,
    waits: PhantomData<W>,
}

/// What is loaded or followed: a level, or a condition whose level depends on the element's polarity.
#[doc(hidden)]
#[derive(Clone, Copy, Debug)]
pub struct Value(pub(super) Given);

#[derive(Clone, Copy, Debug)]
pub(super) enum Given {
    Level(Id),
    Condition(Id),
}

impl Value {
    pub(super) fn level(level: Level) -> Self {
        Value(Given::Level(level.0))
    }

    pub(super) fn condition(condition: Assertion) -> Self {
        Value(Given::Condition(condition.0))
    }
}

/// What a register does on its edge.
#[derive(Clone, Copy, Debug)]
pub(super) enum Step {
    Load(Value),
    LoadIf(Id, Value),
    ToggleIf(Id),
    Jk(Id, Id),
}

#[derive(Clone, Copy, Debug)]
pub(super) enum Action {
    Gate(Value),
    Register {
        edge: Id,
        step: Step,
    },
    Latch {
        open: Id,
        data: Value,
    },
    /// The same wire as this contact.
    Wire(SlotId),
}

/// What overrides an element at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Override {
    Clear,
    Preset,
    Assert,
    Release,
    LoadsUnknown,
}

/// How an element comes up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Begin {
    Level(bool),
    Truth(bool),
}

/// A definition without its type.
#[derive(Clone, Debug)]
pub(super) struct Recipe {
    pub(super) at: &'static Location<'static>,
    pub(super) action: Action,
    pub(super) overrides: Vec<(Override, Id)>,
    pub(super) drives: Vec<Id>,
    pub(super) begins: Vec<Begin>,
}

fn define<S>(at: &'static Location<'static>, action: Action) -> Definition<S> {
    let recipe = Recipe { at, action, overrides: Vec::new(), drives: Vec::new(), begins: Vec::new() };
    Definition { recipe, of: PhantomData }
}

/// A register that acts on this edge.
#[track_caller]
pub fn on(edge: impl Moment) -> Clocked {
    Clocked { at: Location::caller(), edge: edge.edge(), waits: PhantomData }
}

/// A latch that is transparent while this is true and holds while it is not.
#[track_caller]
pub fn open_while(condition: impl Condition) -> Opened {
    Opened { at: Location::caller(), open: given(condition, 0), waits: PhantomData }
}

/// A gate: data follows a level, an element with polarity is asserted while a condition is true.
#[track_caller]
pub fn follow<S>(value: impl Fits<S>) -> Definition<S>
where
    S: CanFollow,
{
    define(Location::caller(), Action::Gate(value.value()))
}

/// A gate that is asserted while this is true, and released while not.
#[track_caller]
pub fn assert_while<S>(condition: impl Condition) -> Definition<S>
where
    S: TakesCondition + CanFollow,
{
    define(Location::caller(), Action::Gate(Value::condition(given(condition, 0))))
}

/// The same wire as another contact: an input of a circuit inside on a contact of this one, or on an output of another
/// circuit inside; a contact of this one on an output of a circuit inside, which drives it or lets it float as it does. Both
/// carry the same: a wire inverts nothing.
#[track_caller]
pub fn wired_to<S>(contact: impl WiresTo<S>) -> Definition<S> {
    define(Location::caller(), Action::Wire(contact.wire()))
}

/// One definition for each element of an array; `f` gets its place in the array, counted from 0.
pub fn each<D, const N: usize>(f: impl ForEach<D>) -> [D; N] {
    std::array::from_fn(f)
}

impl Clocked {
    fn step<S>(self, step: Step) -> Definition<S> {
        define(self.at, Action::Register { edge: self.edge.0, step })
    }

    /// Loads this on the edge.
    pub fn load<S>(self, value: impl Fits<S>) -> Definition<S>
    where
        S: CanClock,
    {
        self.step(Step::Load(value.value()))
    }

    /// Loads this on the edge if the condition is true then, and keeps what it holds if not.
    #[track_caller]
    pub fn load_if<S>(self, condition: impl Condition, value: impl Fits<S>) -> Definition<S>
    where
        S: CanClock,
    {
        self.step(Step::LoadIf(given(condition, 0).0, value.value()))
    }

    /// Changes on every edge.
    pub fn toggle<S>(self) -> Definition<S>
    where
        S: CanClock,
    {
        self.step(Step::ToggleIf(Id::HIGH))
    }

    /// Changes on the edge if the condition is true then, and keeps what it holds if not.
    #[track_caller]
    pub fn toggle_if<S>(self, condition: impl Condition) -> Definition<S>
    where
        S: CanClock,
    {
        self.step(Step::ToggleIf(given(condition, 0).0))
    }

    /// A JK flip-flop: on the edge it goes high (an element with polarity: asserted) for J alone, low (released) for K
    /// alone, changes for both and keeps what it holds for neither.
    #[track_caller]
    pub fn jk<S>(self, j: impl Condition, k: impl Condition) -> Definition<S>
    where
        S: CanClock,
    {
        self.step(Step::Jk(given(j, 0).0, given(k, 1).0))
    }
}

impl Opened {
    /// Follows this while open, and keeps what it holds while not.
    pub fn follow<S>(self, value: impl Fits<S>) -> Definition<S>
    where
        S: CanOpen,
    {
        define(self.at, Action::Latch { open: self.open.0, data: value.value() })
    }
}

// Words in the wrong order: they exist so that the message can say the right one.
macro_rules! said_too_early {
    ($early:ident: $($conditional:ident)* / $($plain:ident)*) => {
        #[doc(hidden)]
        impl<W> $early<W> {$(
            pub fn $conditional(self, condition: impl Condition) -> Self
            where
                W: SaysWhat,
            {
                let _ = condition.truth();
                self
            }
        )*$(
            pub fn $plain(self) -> Self
            where
                W: SaysWhat,
            {
                self
            }
        )*}
    };
}
said_too_early!(Clocked: drive_while clear_while preset_while assert_while release_while / starts_low starts_high starts_asserted starts_released);
said_too_early!(Opened: drive_while clear_while preset_while assert_while release_while / starts_low starts_high starts_asserted starts_released);

/// What clears, presets, asserts or releases may be given more than once: any of the conditions is enough.
impl<S> Definition<S> {
    #[track_caller]
    fn with(mut self, what: Override, condition: impl Condition) -> Self {
        self.recipe.overrides.push((what, given(condition, 0).0));
        self
    }

    /// Low at once while this is true, whatever the clock or the gate of the latch does.
    #[track_caller]
    pub fn clear_while(self, condition: impl Condition) -> Self
    where
        S: TakesLevel + Holds,
    {
        self.with(Override::Clear, condition)
    }

    /// High at once while this is true, whatever the clock or the gate of the latch does.
    #[track_caller]
    pub fn preset_while(self, condition: impl Condition) -> Self
    where
        S: TakesLevel + Holds,
    {
        self.with(Override::Preset, condition)
    }

    /// Asserted at once while this is true, whatever the clock or the gate of the latch does.
    #[track_caller]
    pub fn assert_while(self, condition: impl Condition) -> Self
    where
        S: TakesCondition + Holds,
    {
        self.with(Override::Assert, condition)
    }

    /// Not asserted at once while this is true, whatever the clock or the gate of the latch does.
    #[track_caller]
    pub fn release_while(self, condition: impl Condition) -> Self
    where
        S: TakesCondition + Holds,
    {
        self.with(Override::Release, condition)
    }

    /// For descriptions of parts: if this is true before the edge, nobody knows what the register loads, because the data sheet
    /// leaves it open; a simulation takes what is defined. A proof lets a replacement of the part do anything there,
    /// and asks of a replacement that has the part that it be right whatever it loads.
    #[track_caller]
    pub fn loads_unknown_while(self, condition: impl Condition) -> Self
    where
        S: Holds,
    {
        self.with(Override::LoadsUnknown, condition)
    }

    /// Drives the contact while this is true, and floats it while not. Give it once.
    #[track_caller]
    pub fn drive_while(mut self, condition: impl Condition) -> Self
    where
        S: HasPin + CanFloat,
    {
        self.recipe.drives.push(given(condition, 0).0);
        self
    }

    fn begin(mut self, begin: Begin) -> Self {
        self.recipe.begins.push(begin);
        self
    }

    /// Low when power comes on.
    pub fn starts_low(self) -> Self
    where
        S: TakesLevel + Holds,
    {
        self.begin(Begin::Level(false))
    }

    /// High when power comes on.
    pub fn starts_high(self) -> Self
    where
        S: TakesLevel + Holds,
    {
        self.begin(Begin::Level(true))
    }

    /// Asserted when power comes on.
    pub fn starts_asserted(self) -> Self
    where
        S: TakesCondition + Holds,
    {
        self.begin(Begin::Truth(true))
    }

    /// Not asserted when power comes on.
    pub fn starts_released(self) -> Self
    where
        S: TakesCondition + Holds,
    {
        self.begin(Begin::Truth(false))
    }
}
