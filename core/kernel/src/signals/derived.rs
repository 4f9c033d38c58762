//! What the derive's code calls. Not for use by hand.
#![allow(missing_docs)]
use super::arena::{self, Own, Slot, SlotId};
use super::fields::{Buried, InOut, Input, Output};
use super::inside::Within;
use super::lower;
use super::markers::{BuriedKind, Drive, Inside, LetsGo, Polarity, WithoutPin};
use super::parameters;
use super::source;
use super::{Circuit, Definition, Wiring};
use crate::circuit::{self, Contact, Direction, Element, Expr, Kind, Label, Origin, Pull, Rail, Stage, Start};

/// Stands for a field that the derive could not read, so that its mistake is reported once.
#[derive(Clone, Copy, Debug)]
pub enum Unknown {}

/// What a field's type says.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// The contact's direction and the stage behind it; a buried element has none.
    pub(super) contact: Option<(Direction, Stage)>,
    pub(super) polarity: circuit::Polarity,
    pub(super) holds: bool,
}

/// A field of a circuit, whatever its words are.
pub trait Field: Sized {
    fn at(slot: SlotId) -> Self;
    fn slot(&self) -> SlotId;
}

/// A field whose words fit together. Only the declaration asks for it, so that a wrong word is one error.
pub trait Declared: Field {
    const SHAPE: Shape;
}

macro_rules! field {
    ($field:ident<$($word:ident),*>) => {
        impl<$($word),*> Field for $field<$($word),*> {
            fn at(slot: SlotId) -> Self {
                $field::at(slot)
            }
            fn slot(&self) -> SlotId {
                self.0
            }
        }
    };
}

field!(Input<P>);
field!(Output<P, D>);
field!(InOut<P, D>);
field!(Buried<K, P, D>);

const fn shape(contact: Option<(Direction, Stage)>, polarity: circuit::Polarity, holds: bool) -> Shape {
    Shape { contact, polarity, holds }
}

// written out: rustc shows these lines when a word is wrong
impl<P: Polarity> Declared for Input<P> {
    const SHAPE: Shape = shape(Some((Direction::Input, Stage::PushPull)), P::CARRIES, false);
}
impl<P: Polarity, D: Drive> Declared for Output<P, D> {
    const SHAPE: Shape = shape(Some((Direction::Output, D::STAGE)), P::CARRIES, false);
}
impl<P: Polarity, D: LetsGo> Declared for InOut<P, D> {
    const SHAPE: Shape = shape(Some((Direction::InOut, D::STAGE)), P::CARRIES, false);
}
impl<K: BuriedKind, P: Inside, D: WithoutPin> Declared for Buried<K, P, D> {
    const SHAPE: Shape = shape(None, P::CARRIES, K::HOLDS);
}

/// Where a field stands in the source, and what stands above it.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    pub name: &'static str,
    pub labels: &'static [&'static str],
    /// The first of as many labels as the array takes beyond these: letters and a number.
    pub onwards: Option<(&'static str, u16)>,
    pub pull: Pull,
    pub file: &'static str,
    pub line: u32,
}

impl Place {
    /// The contact of one element of an array; nothing if it is buried.
    fn label(&self, i: usize) -> Option<Label> {
        let written = self.labels.get(i).copied().map(Label::new);
        written.or_else(|| {
            let (prefix, first) = self.onwards?;
            let number = usize::from(first) + i.checked_sub(self.labels.len())?;
            Some(Label::new(format!("{prefix}{number}")))
        })
    }
}

/// What is said of an array that has another length than there are contacts for it, as a constant.
#[derive(Clone, Copy, Debug)]
pub struct Counted {
    text: [u8; 256],
    length: usize,
}

impl Counted {
    pub const fn new(name: &str, given: usize, length: usize) -> Self {
        let text = Counted { text: [0; 256], length: 0 }.word("`").word(name).word("` has ").number(length);
        let text = text.word(if length == 1 { " element, but " } else { " elements, but " }).number(given);
        text.word(if given == 1 { " contact is given" } else { " contacts are given" })
    }

    const fn byte(mut self, byte: u8) -> Self {
        if self.length < self.text.len() {
            self.text[self.length] = byte;
            self.length += 1;
        }
        self
    }

    const fn word(mut self, word: &str) -> Self {
        let mut i = 0;
        while i < word.len() {
            self = self.byte(word.as_bytes()[i]);
            i += 1;
        }
        self
    }

    const fn number(mut self, number: usize) -> Self {
        if number > 9 {
            self = self.number(number / 10);
        }
        self.byte(b'0' + (number % 10) as u8)
    }

    pub const fn text(&self) -> &str {
        let (text, _) = self.text.split_at(self.length);
        match std::str::from_utf8(text) {
            Ok(text) => text,
            Err(_) => "as many contacts are needed as the array has elements",
        }
    }
}

/// Makes the handles of a circuit's fields.
#[derive(Debug)]
pub struct Declaration {
    /// The circuit is one inside another, and stands there already.
    within: Option<Within>,
}

impl Declaration {
    pub(super) fn new() -> Self {
        Declaration { within: None }
    }

    pub fn one<F: Declared>(&mut self, place: Place) -> F {
        F::at(self.declare(&F::SHAPE, place.name.to_owned(), None, &place))
    }

    pub fn many<F: Declared, const N: usize>(&mut self, place: Place) -> [F; N] {
        std::array::from_fn(|i| F::at(self.declare(&F::SHAPE, format!("{}[{i}]", place.name), Some((i, N)), &place)))
    }

    /// A circuit inside this one.
    pub fn inside<C: Wiring>(&mut self, place: Place) -> C {
        self.placed(place.name.to_owned())
    }

    /// Several of them.
    pub fn inside_each<C: Wiring, const N: usize>(&mut self, place: Place) -> [C; N] {
        std::array::from_fn(|i| self.placed(format!("{}[{i}]", place.name)))
    }

    /// The values that the wiring is made with. Without them there is nothing that could be declared: the build ends here.
    pub fn parameters<C: Circuit>(&mut self) -> C::Parameters {
        match parameters::of::<C>() {
            Some(parameters) => parameters,
            None => std::panic::resume_unwind(Box::new(format!(
                "`{}` is made with parameters, and none are given",
                C::NAME
            ))),
        }
    }

    fn placed<C: Wiring>(&mut self, name: String) -> C {
        let within = match &self.within {
            Some(within) => within.deeper(&name),
            None => Within::place::<C>(name),
        };
        C::declare(&mut Declaration { within: Some(within) })
    }

    fn declare(&self, shape: &Shape, name: String, array: Option<(usize, usize)>, place: &Place) -> SlotId {
        match &self.within {
            Some(within) => within.slot(shape, &name),
            None => declare(shape, name, array, place),
        }
    }

    /// A supply contact. Those of a circuit inside another are pins of that package, not contacts of the card.
    pub fn supply(&mut self, label: &'static str, rail: Rail) {
        if self.within.is_some() {
            return;
        }
        arena::innermost(|b| b.circuit.add_supply(Label::new(label), rail));
    }
}

/// Adds what a field has on both its sides: the contact with its wire, and what drives it or is buried.
fn declare(shape: &Shape, name: String, array: Option<(usize, usize)>, place: &Place) -> SlotId {
    let label = place.label(array.map_or(0, |(i, _)| i));
    let origin = Origin::line(&place.file.into(), place.line);
    arena::innermost(|b| {
        let turnable = source::Turnable::declared(place.name, shape.polarity, &origin);
        let turned = shape.contact.is_some() && turnable.is_some_and(|place| b.place(place));
        let shape = &if turned { Shape { polarity: source::other(shape.polarity), ..*shape } } else { *shape };
        let c = &mut b.circuit;
        let wire = shape.contact.map(|(direction, _)| {
            let net = c.add_net(name.clone(), origin.clone());
            if let Some(n) = c.net_mut(net) {
                n.pull = place.pull;
            }
            c.add_contact(Contact {
                label: label.unwrap_or_else(|| Label::new(&name)),
                name: name.clone(),
                net,
                polarity: shape.polarity,
                direction,
                origin: origin.clone(),
            });
            net
        });
        let own = match shape.contact {
            Some((Direction::Input, _)) => Own::Nothing,
            Some(_) => {
                let value = c.add_net(format!("{name} (value)"), origin.clone());
                if let Some(net) = c.net_mut(value) {
                    net.value_of = wire;
                }
                Own::Net(value)
            }
            None if shape.holds => Own::Element(c.add_element(Element {
                name: name.clone(),
                kind: Kind::Latch { open: Expr::LOW, data: Expr::LOW },
                clear: Expr::LOW,
                unknown_load: Expr::LOW,
                preset: Expr::LOW,
                start: Start::Any,
                origin: origin.clone(),
            })),
            None => Own::Net(c.add_net(name.clone(), origin.clone())),
        };
        b.add_slot(Slot { name, shape: *shape, wire, own, turned, drivers: None, array })
    })
    .unwrap_or(SlotId::NOWHERE)
}

/// Takes the definitions out of a filled wiring.
#[derive(Debug)]
pub struct Definitions(());

impl Definitions {
    pub(super) fn new() -> Self {
        Definitions(())
    }

    pub fn one<F: Field>(&mut self, field: &F, definition: Definition<F>) {
        arena::innermost(|b| lower::define(b, field.slot(), &definition.recipe));
    }

    /// What the outer circuit puts on a circuit inside it.
    pub fn inside<C: Circuit>(&mut self, circuit: &C, given: C::Inputs) {
        circuit.feed(given, self);
    }

    pub fn inside_each<C: Circuit, const N: usize>(&mut self, circuits: &[C; N], given: [C::Inputs; N]) {
        for (circuit, given) in circuits.iter().zip(given) {
            self.inside(circuit, given);
        }
    }

    pub fn many<F: Field, const N: usize>(&mut self, fields: &[F; N], definitions: [Definition<F>; N]) {
        for (field, definition) in fields.iter().zip(definitions) {
            self.one(field, definition);
        }
    }
}
