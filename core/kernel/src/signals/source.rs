//! The source of a circuit, to build it again with one thing taken otherwise: a contact's declared polarity, an edge, a `!`, an
//! operator, what is read somewhere.
//!
//! The circuit alone can't tell a level that was read as such from one that a declared polarity turned, nor which of two
//! registers on one clock share a `let`; and a slip may have left nothing of what was written in it. The source can: it is run
//! again.
use std::fmt;
use std::panic::Location;
use std::sync::Arc;

use super::{Given, Wiring, turned};
use crate::circuit::{Circuit, Expr, Origin, Polarity};

/// One thing that the source says, taken otherwise. Places are where a user wrote it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// The polarity of this field, which is declared as this.
    Polarity(&'static str, Polarity),
    /// The edge that is written here: a rise is a fall.
    Edge(&'static Location<'static>),
    /// The condition that is written here, or the `!` before a level: inverted.
    Not(&'static Location<'static>),
    /// The condition that is given to the word that is written here, by its place among the word's conditions: inverted.
    Given(&'static Location<'static>, u8),
    /// This operator for the one that is written here.
    Operator(&'static Location<'static>, Operator),
    /// Without one operand of the operator that is written here: the left one, or the right one.
    Without(&'static Location<'static>, Operand),
    /// Another field of the same words in the place of the one that is read here: so many fields further on.
    Read(&'static Location<'static>, isize),
    /// The array that is read here, with its elements in another order.
    Order(&'static Location<'static>, Order),
    /// The number that a word is compared with here, this bit of it the other way.
    Number(&'static Location<'static>, u32),
}

/// What joins two conditions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operator {
    /// Both are true: `&`.
    And,
    /// At least one is true: `|`.
    Or,
    /// One of them is true, and not the other: `^`.
    Xor,
}

impl Operator {
    /// All of them.
    pub const ALL: [Operator; 3] = [Operator::And, Operator::Or, Operator::Xor];
}

/// An operand of an operator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operand {
    /// Before the operator.
    Left,
    /// Behind it.
    Right,
}

/// Another order of an array's elements.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// The last for the first.
    Reversed,
    /// Each for the one before it, and the first for the last.
    Onwards,
    /// Each for the one after it, and the last for the first.
    Backwards,
}

impl Order {
    /// Which of so many elements stands for this one.
    pub(super) fn of(self, at: usize, length: usize) -> usize {
        let last = length.saturating_sub(1);
        match self {
            Order::Reversed => last.saturating_sub(at),
            Order::Onwards if at >= last => 0,
            Order::Onwards => at + 1,
            Order::Backwards => at.checked_sub(1).unwrap_or(last),
        }
    }
}

/// A place of the source that can be taken otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Turnable {
    /// What would be.
    pub turn: Turn,
    /// Where it is written.
    pub origin: Origin,
    /// What stands there.
    pub stands: Stands,
}

/// What stands at a place of the source; expressions are those of the circuit that was built.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stands {
    /// What the turn says.
    Declared,
    /// A condition, or a level.
    Expression(Expr),
    /// An operator with its two operands.
    Joined(Expr, Operator, Expr),
    /// This field, and the one that would stand there: by their names, each bit of an array by its own.
    Field(String, String),
    /// A number.
    Number(u64),
}

impl Turnable {
    pub(super) fn edge(at: &'static Location<'static>) -> Turnable {
        Turnable { turn: Turn::Edge(at), origin: Origin::from(at), stands: Stands::Declared }
    }

    /// A field; nothing if it has no polarity.
    pub(super) fn declared(name: &'static str, polarity: Polarity, origin: &Origin) -> Option<Turnable> {
        let turn = Turn::Polarity(name, polarity);
        (other(polarity) != polarity).then(|| Turnable { turn, origin: origin.clone(), stands: Stands::Declared })
    }
}

/// The opposite polarity, of what has one.
pub fn other(polarity: Polarity) -> Polarity {
    match polarity {
        Polarity::ActiveLow => Polarity::ActiveHigh,
        Polarity::ActiveHigh => Polarity::ActiveLow,
        Polarity::Data | Polarity::Clock => polarity,
    }
}

/// What builds a circuit from its type, and from the values of its parameters if it has any.
#[derive(Clone)]
pub struct Source(Arc<Build>);

type Build = dyn Fn(Plan<'_>) -> Option<(Circuit, Vec<Turnable>)> + Send + Sync;

/// What a build is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Plan<'t> {
    /// The circuit, and the places of its source that can be taken otherwise.
    Listed,
    /// The circuit with these places taken otherwise.
    Turned(&'t [Turn]),
}

/// Gives a circuit its parameters, whatever they are.
pub(crate) type Parameters = Arc<dyn Fn() -> Option<Given> + Send + Sync>;

impl fmt::Debug for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Source")
    }
}

impl Source {
    /// The source of this type.
    pub fn of<C: Wiring>() -> Source {
        Source::with::<C>(None)
    }

    /// The source of this type, with these values of its parameters.
    pub(crate) fn with<C: Wiring>(parameters: Option<Parameters>) -> Source {
        Source(Arc::new(move |plan| {
            let _given = parameters.as_ref().map(|give| give());
            turned::<C, ()>(plan, |_| ()).ok().map(|(circuit, places, ())| (circuit, places))
        }))
    }

    /// The circuit, and the places of its source that can be taken otherwise.
    pub fn build(&self) -> Option<(Circuit, Vec<Turnable>)> {
        (self.0)(Plan::Listed)
    }

    /// The circuit with these places taken otherwise.
    pub fn turned(&self, turns: &[Turn]) -> Option<Circuit> {
        (self.0)(Plan::Turned(turns)).map(|(circuit, _)| circuit)
    }
}
