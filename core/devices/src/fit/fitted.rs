//! The result of a fit: what each pin and each macrocell does, and the plan that the fuse map is made from.
use std::collections::BTreeMap;

use super::assign::Assignment;
use super::demand::{Choice, Demand, Demands, Drive};
use super::globals::EnablePin;
use super::item::{Item, label};
use super::note::Note;
use super::place::Place;
use super::terms::SumTerm;
use crate::device::{
    Cell, Device, Enable, EnableSource, Function, Literal, PinNumber, Plan, PortPin, Role, Source, Term,
};
use crate::logic::{HELD, Logic, Product, StandsFor};
use gluewright_kernel::circuit::{Circuit, Label, Origin, Rail};

/// A circuit placed into a device.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// The circuit's name.
    pub circuit: String,
    /// The device's type number.
    pub device: &'static str,
    /// The device's mode; empty if it has only one.
    pub mode: &'static str,
    /// Whether the device is made of logic blocks: its maker's fitter makes the programming file.
    pub for_fitter: bool,
    /// What the pin of a register shows at power-up, where the device promises it: of a macrocell that does not invert, and
    /// of one that does.
    pub power_up: [Option<bool>; 2],
    /// What the fuse map is made from; empty for a device of logic blocks, which has none.
    pub plan: Plan,
    /// The functions, with the nodes that had to be added. Products below are over its variables.
    pub logic: Logic,
    /// Which contact goes to which pin, in the order of pins. A contact may need two.
    pub wires: Vec<PinWire>,
    /// The supply contacts with the device's pins for them.
    pub supplies: Vec<SupplyWire>,
    /// The macrocells in use, in the order of contacts, buried ones last.
    pub cells: Vec<FittedCell>,
    /// The variable of the clock, if there are registers.
    pub clock: Option<usize>,
    /// The term that resets all registers.
    pub reset: Option<Product>,
    /// The term that sets all registers on the next clock edge. It stands among the terms of the macrocells that it
    /// helps, and in the fuse map once.
    pub preset: Option<Product>,
    /// Pins that have to be tied to a rail on the adapter.
    pub ties: Vec<(PinNumber, Rail)>,
    /// Pins that carry no signal: undriven, to be left open or tied as the maker says.
    pub unused: Vec<PinNumber>,
    /// Pins that carry no signal and that the device drives all the same.
    pub driven: Vec<PinNumber>,
    /// Pins that are kept for programming the device in its circuit: connect them to nothing else.
    pub port: Vec<PortPin>,
    /// What a person should know about the fit.
    pub notes: Vec<Note>,
}

/// A contact of the socket that is wired to a pin of the device.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PinWire {
    /// The device's pin.
    pub pin: PinNumber,
    /// The contact.
    pub label: Label,
    /// The signal's name.
    pub signal: String,
}

/// A supply contact with the device's pin for that rail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SupplyWire {
    /// The device's pin.
    pub pin: PinNumber,
    /// The contacts that carry the rail; the circuit may not declare any.
    pub labels: Vec<Label>,
    /// The rail.
    pub rail: Rail,
}

/// A line into a macrocell: a clock, a clear, a preset.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// True while this product term is.
    pub product: Product,
    /// The global pin that carries it; without one it takes a term of the macrocell.
    pub pin: Option<PinNumber>,
}

/// The lines that a macrocell of a device of logic blocks has for itself.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Control {
    /// A register loads when this becomes true; a latch is open while it is.
    pub gate: Option<Line>,
    /// Low at once while true. Never true together with the preset.
    pub clear: Option<Line>,
    /// High at once while true.
    pub preset: Option<Line>,
    /// The global pin that carries the drive condition; without one that takes a term.
    pub enable: Option<PinNumber>,
    /// The macrocells whose terms it borrows.
    pub borrowed: Vec<u16>,
}

/// A macrocell in use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FittedCell {
    /// Its number. A device with an array and a fuse map counts its macrocells by their pins.
    pub macrocell: u16,
    /// Its pin. A buried macrocell of a device of logic blocks leaves its pin to others, if it has one at all.
    pub pin: Option<PinNumber>,
    /// The signal's name.
    pub name: String,
    /// The contact, unless it is buried.
    pub label: Option<Label>,
    /// Index in [`Logic::outputs`], if it has a contact.
    pub output: Option<usize>,
    /// Variables that are read here, each with whether the pin shows its complement.
    pub holds: Vec<(usize, bool)>,
    /// Registered or combinational.
    pub function: Function,
    /// When the pin is driven.
    pub drive: Drive,
    /// The pin shows the complement of the sum, for a register after the clock edge.
    pub inverted: bool,
    /// The product terms.
    pub terms: Vec<SumTerm>,
    /// Whether fewer terms are proved impossible in this polarity, given that they keep the sum steady.
    pub fewest: bool,
    /// Product terms that the macrocell has for the sum, the preset of all registers included where it holds one of them.
    pub capacity: usize,
    /// The lines that it has for itself; on a device with an array and a fuse map what registers have they share.
    pub control: Option<Control>,
    /// Where it was written.
    pub origin: Origin,
}

impl Fitted {
    /// The pins that a contact is wired to, in rising order; none if the device doesn't use it.
    pub fn pins_of(&self, label: &Label) -> Vec<PinNumber> {
        self.wires.iter().filter(|w| &w.label == label).map(|w| w.pin).collect()
    }

    /// Product terms in use, enables and the reset not counted.
    pub fn term_count(&self) -> usize {
        self.cells.iter().map(|c| c.terms.len()).sum()
    }
}

/// Writes down what was decided; what a person should know about it is not said yet.
pub(super) fn fitted(circuit: &Circuit, demands: Demands, place: Place<'_>, assignment: &Assignment) -> Fitted {
    let reader = Reader::new(&demands, place, assignment);
    let mut plan = Plan { mode: place.index, ..Plan::default() };
    let mut cells = Vec::with_capacity(demands.list.len());
    for (index, demand) in demands.list.iter().enumerate() {
        let Some(&pin) = assignment.get(&Item::Macrocell(index)) else { continue };
        let configuration = place.mode.macrocell(pin).and_then(|m| m.configuration(demand.function));
        let enable = match (configuration.map(|c| c.enable), &demand.drive) {
            (Some(EnableSource::Pin(_)), _) => Enable::Pin,
            (Some(EnableSource::Always), _) | (_, Drive::Always) => Enable::Always,
            (_, Drive::Never) => Enable::Never,
            (_, Drive::While(product)) => Enable::While(reader.term(product)),
        };
        let Choice { inverted, terms, flipped, fewest } = demand.choice.clone();
        let own = terms.iter().map(|t| &t.product).filter(|p| Some(*p) != demand.preset.as_ref());
        let sum = own.map(|product| reader.term(product)).collect();
        plan.cells.insert(pin, Cell { function: demand.function, inverted, enable, terms: sum, exclusive: Vec::new() });
        cells.push(FittedCell {
            macrocell: pin,
            pin: Some(pin),
            name: demand.name.clone(),
            label: label(&demands, Item::Macrocell(index)).cloned(),
            output: demand.output,
            holds: demand.holds.iter().map(|&(v, shown)| (v, shown != flipped)).collect(),
            function: demand.function,
            drive: demand.drive.clone(),
            inverted,
            terms,
            fewest,
            capacity: configuration.map_or(0, |c| c.rows.len()) + usize::from(demand.preset.is_some()),
            control: None,
            origin: demand.origin.clone(),
        });
    }
    plan.reset = demands.reset.as_ref().map(|r| reader.term(r));
    plan.preset = demands.preset.as_ref().map(|p| reader.term(p));
    let wires = wires(&demands, assignment);
    let tied = place.enable_pin().filter(|_| demands.globals.enable == Some(EnablePin::Tied));
    let used = |pin: PinNumber| assignment.values().any(|&p| p == pin) || tied == Some(pin);
    let signal = |r: Role| !matches!(r, Role::Vcc | Role::Gnd);
    let free = place.device.pins.iter().filter(|p| signal(p.role) && !used(p.number)).map(|p| p.number);
    let (unused, driven) = free.partition(|&p| place.mode.macrocell(p).is_none_or(|m| place.can_be_silent(m)));
    let mut fitted = Fitted {
        circuit: circuit.name.clone(),
        device: place.device.name,
        mode: place.mode.name,
        for_fitter: false,
        power_up: [false, true].map(|inverted| place.device.pin_at_power_up(inverted)),
        plan,
        wires,
        supplies: supplies(circuit, place.device),
        cells,
        clock: demands.globals.clock,
        reset: demands.reset,
        preset: demands.preset,
        ties: tied.map(|pin| (pin, Rail::Gnd)).into_iter().collect(),
        unused,
        driven,
        port: Vec::new(),
        notes: Vec::new(),
        logic: demands.logic,
    };
    tell_apart(&mut fitted);
    fitted
}

/// A bit that is held in one macrocell and shown through another is called otherwise than the contact that shows it.
pub(super) fn tell_apart(fitted: &mut Fitted) {
    let shown: Vec<String> = fitted.logic.outputs.iter().map(|o| o.name.clone()).collect();
    for cell in fitted.cells.iter_mut().filter(|c| c.output.is_none() && shown.contains(&c.name)) {
        for &(variable, _) in &cell.holds {
            let logic = &mut fitted.logic;
            if let Some(signal) = logic.signals.get_mut(variable) {
                signal.name = format!("{}{HELD}", cell.name);
                signal.stands_for = Some(StandsFor::Held(cell.name.clone()));
            }
            for node in logic.nodes.iter_mut().filter(|n| n.variable == variable) {
                node.name = format!("{}{HELD}", cell.name);
            }
        }
        cell.name.push_str(HELD);
    }
}

fn wires(demands: &Demands, assignment: &Assignment) -> Vec<PinWire> {
    let name = |item: Item| match item {
        Item::Clock(v) | Item::Enable(v) | Item::Input(v) => demands.logic.name_of(v).to_owned(),
        Item::Macrocell(i) => demands.list.get(i).map_or_else(String::new, |d| d.name.clone()),
    };
    let wire = |(&item, &pin): (&Item, &PinNumber)| {
        label(demands, item).map(|l| PinWire { pin, label: l.clone(), signal: name(item) })
    };
    let mut wires: Vec<PinWire> = assignment.iter().filter_map(wire).collect();
    wires.sort();
    wires
}

pub(super) fn supplies(circuit: &Circuit, device: &Device) -> Vec<SupplyWire> {
    let rail = |role: Role| match role {
        Role::Vcc => Some(Rail::Vcc),
        Role::Gnd => Some(Rail::Gnd),
        Role::Input | Role::ClockInput | Role::EnableInput | Role::Io => None,
    };
    let labels = |rail: Rail| circuit.supplies().iter().filter(|(_, r)| *r == rail).map(|(l, _)| l.clone()).collect();
    let pins = device.pins.iter();
    pins.filter_map(|p| rail(p.role).map(|rail| SupplyWire { pin: p.number, labels: labels(rail), rail })).collect()
}

/// Where each variable is read in the array.
struct Reader<'a> {
    place: Place<'a>,
    /// The source, and whether its true column is the complement of the variable.
    at: BTreeMap<usize, (Source, bool)>,
}

impl<'a> Reader<'a> {
    fn new(demands: &Demands, place: Place<'a>, assignment: &Assignment) -> Self {
        let mut reader = Reader { place, at: BTreeMap::new() };
        for (&item, &pin) in assignment {
            match item {
                Item::Clock(v) | Item::Enable(v) | Item::Input(v) => {
                    // a clock pin that doesn't reach the array has a second pin that does
                    if let Some(source) = place.mode.reads(pin) {
                        reader.at.insert(v, (source, false));
                    }
                }
                Item::Macrocell(i) => {
                    if let Some(demand) = demands.list.get(i) {
                        reader.cell(demand, pin);
                    }
                }
            }
        }
        reader
    }

    fn cell(&mut self, demand: &Demand, pin: PinNumber) {
        let configuration = self.place.mode.macrocell(pin).and_then(|m| m.configuration(demand.function));
        let Choice { inverted, flipped, .. } = demand.choice;
        let opposes = configuration.is_some_and(|c| self.place.device.feedback_opposes_pin(c, inverted));
        for &(variable, shown) in &demand.holds {
            self.at.insert(variable, (Source::Feedback(pin), shown != (flipped != opposes)));
        }
    }

    fn term(&self, product: &Product) -> Term {
        let literal = |&(variable, value): &(usize, bool)| {
            let (source, complement) = self.at.get(&variable).copied()?;
            Some(Literal { source, complement: value == complement })
        };
        product.iter().filter_map(literal).collect()
    }
}
