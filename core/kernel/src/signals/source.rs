//! The source of a circuit, to build it again with one thing turned round: a contact's declared polarity, an edge.
//!
//! The circuit alone can't tell a level that was read as such from one that a declared polarity turned, nor which of two
//! registers on one clock share a `let`. The source can: it is run again.
use std::fmt;
use std::panic::Location;
use std::sync::Arc;

use super::{Given, Wiring, turned};
use crate::circuit::{Circuit, Origin, Polarity};

/// One thing that the source says, taken the other way round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// The polarity of this field, which is declared as this.
    Polarity(&'static str, Polarity),
    /// The edge that is written here: a rise is a fall.
    Edge(&'static Location<'static>),
}

/// A place of the source that can be turned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Turnable {
    /// What would be turned.
    pub turn: Turn,
    /// Where it is written.
    pub origin: Origin,
}

impl Turnable {
    pub(super) fn edge(at: &'static Location<'static>) -> Turnable {
        Turnable { turn: Turn::Edge(at), origin: Origin::from(at) }
    }

    /// A field; nothing if it has no polarity.
    pub(super) fn declared(name: &'static str, polarity: Polarity, origin: &Origin) -> Option<Turnable> {
        (other(polarity) != polarity).then(|| Turnable { turn: Turn::Polarity(name, polarity), origin: origin.clone() })
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

type Build = dyn Fn(Option<Turn>) -> Option<(Circuit, Vec<Turnable>)> + Send + Sync;

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
        Source(Arc::new(move |turn| {
            let _given = parameters.as_ref().map(|give| give());
            turned::<C, ()>(turn, |_| ()).ok().map(|(circuit, places, ())| (circuit, places))
        }))
    }

    /// The circuit, and the places of its source that can be turned.
    pub fn build(&self) -> Option<(Circuit, Vec<Turnable>)> {
        (self.0)(None)
    }

    /// The circuit with one place turned.
    pub fn turned(&self, turn: Turn) -> Option<Circuit> {
        (self.0)(Some(turn)).map(|(circuit, _)| circuit)
    }
}
