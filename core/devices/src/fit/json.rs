//! A fit as JSON: the shape that the guide's page on JSON describes.
use serde::{Serialize, Serializer};

use super::{Drive, Fitted, FittedCell};
use crate::device::{Function, PinNumber};
use crate::logic::{Logic, Product};
use gluewright_kernel::circuit::{Label, Rail};

/// A level that a product term asks for.
#[derive(Serialize)]
struct Literal<'v> {
    signal: &'v str,
    high: bool,
}

/// A product term: true while all of its levels are there.
type Term<'v> = Vec<Literal<'v>>;

fn term<'v>(logic: &'v Logic, product: &Product) -> Term<'v> {
    product.iter().map(|&(variable, high)| Literal { signal: logic.name_of(variable), high }).collect()
}

#[derive(Serialize)]
struct Pin<'v> {
    pin: PinNumber,
    contact: &'v Label,
    signal: &'v str,
}

#[derive(Serialize)]
struct OnRail<'v> {
    pin: PinNumber,
    rail: &'static str,
    contacts: &'v [Label],
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum Driven<'v> {
    Always,
    Never,
    While(Term<'v>),
}

#[derive(Serialize)]
struct Macrocell<'v> {
    macrocell: u16,
    pin: Option<PinNumber>,
    name: &'v str,
    contact: Option<&'v Label>,
    function: &'static str,
    inverted: bool,
    driven: Driven<'v>,
    terms: Vec<Term<'v>>,
    fewest: bool,
    capacity: usize,
}

#[derive(Serialize)]
struct Record<'v> {
    circuit: &'v str,
    device: &'static str,
    mode: &'static str,
    product_terms: usize,
    pins: Vec<Pin<'v>>,
    supplies: Vec<OnRail<'v>>,
    tied: Vec<OnRail<'v>>,
    unused_pins: &'v [PinNumber],
    clock: Option<&'v str>,
    reset: Option<Term<'v>>,
    preset: Option<Term<'v>>,
    macrocells: Vec<Macrocell<'v>>,
    notes: Vec<String>,
}

fn rail(rail: Rail) -> &'static str {
    match rail {
        Rail::Vcc => "vcc",
        Rail::Gnd => "gnd",
    }
}

fn macrocell<'v>(logic: &'v Logic, cell: &'v FittedCell) -> Macrocell<'v> {
    Macrocell {
        macrocell: cell.macrocell,
        pin: cell.pin,
        name: &cell.name,
        contact: cell.label.as_ref(),
        function: match cell.function {
            Function::Combinational => "combinational",
            Function::Registered => "registered",
            Function::Latch => "latch",
            Function::Input => "input",
        },
        inverted: cell.inverted,
        driven: match &cell.drive {
            Drive::Always => Driven::Always,
            Drive::Never => Driven::Never,
            Drive::While(product) => Driven::While(term(logic, product)),
        },
        terms: cell.terms.iter().map(|t| term(logic, &t.product)).collect(),
        fewest: cell.fewest,
        capacity: cell.capacity,
    }
}

impl Serialize for Fitted {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let logic = &self.logic;
        Record {
            circuit: &self.circuit,
            device: self.device,
            mode: self.mode,
            product_terms: self.term_count(),
            pins: self.wires.iter().map(|w| Pin { pin: w.pin, contact: &w.label, signal: &w.signal }).collect(),
            supplies: self
                .supplies
                .iter()
                .map(|s| OnRail { pin: s.pin, rail: rail(s.rail), contacts: &s.labels })
                .collect(),
            tied: self.ties.iter().map(|&(pin, of)| OnRail { pin, rail: rail(of), contacts: &[] }).collect(),
            unused_pins: &self.unused,
            clock: self.clock.map(|variable| logic.name_of(variable)),
            reset: self.reset.as_ref().map(|product| term(logic, product)),
            preset: self.preset.as_ref().map(|product| term(logic, product)),
            macrocells: self.cells.iter().map(|cell| macrocell(logic, cell)).collect(),
            notes: self.notes.iter().map(ToString::to_string).collect(),
        }
        .serialize(to)
    }
}
