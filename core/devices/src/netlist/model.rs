//! The netlist of a fitted device before it is written down: ports, macrocells, and who reads what by which name.
use std::collections::BTreeMap;

use super::names::Names;
use crate::device::{Function, PinNumber, PortPin};
use crate::fit::{Drive, Fitted, FittedCell};
use crate::logic::{Diagram, Product};
use gluewright_kernel::circuit::{Label, Stage, Start};

/// Which way a port carries a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Into the device.
    In,
    /// Out of the device, at all times.
    Out,
    /// Out of the device at times, and read otherwise.
    Both,
}

/// A contact that the netlist has as a port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// Its name in the netlist.
    pub name: String,
    /// The contact.
    pub label: Label,
    /// The signal's name.
    pub signal: String,
    /// The device's pins, one but for a contact that needs two.
    pub pins: Vec<PinNumber>,
    /// Which way it carries a level.
    pub direction: Direction,
}

/// A name, and whether it is read high.
pub(super) type Literal = (String, bool);

/// A product term over names.
pub(super) type Term = Vec<Literal>;

/// When a macrocell drives its port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Driver {
    Always,
    While(Term),
}

/// What holds the level of a macrocell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Holder {
    /// Nothing: it follows the sum.
    None,
    /// A register, by the names of its lines.
    Register { clock: String, clear: Option<String>, preset: Option<String>, start: Option<bool>, next: String },
    /// A latch.
    Latch { gate: Option<Term>, clear: Option<Term>, preset: Option<Term> },
}

/// A macrocell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    /// The name of its level; none for an open collector, which only pulls.
    pub(super) level: Option<String>,
    pub(super) sum: Vec<Term>,
    pub(super) inverted: bool,
    pub(super) holder: Holder,
    /// The port that it drives, and when.
    pub(super) port: Option<(String, Driver)>,
    /// What it is, for a person.
    pub(super) about: String,
}

/// A line that registers share: a clock of logic, a clear, a preset.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct SharedLine {
    pub(super) name: String,
    pub(super) term: Term,
    /// The clear that goes before a preset of the same register.
    pub(super) unless: Option<String>,
}

/// A fitted device as a netlist; [`verilog`](Netlist::verilog) and [`vhdl`](Netlist::vhdl) write it down.
#[derive(Clone, Debug)]
pub struct Netlist {
    /// The name of the module or entity.
    pub name: String,
    /// The circuit's name.
    pub circuit: String,
    /// The device's type number.
    pub device: &'static str,
    /// The contacts, in their order.
    pub ports: Vec<Port>,
    /// The pins of the programming port that are kept.
    pub port: Vec<PortPin>,
    /// Whether the maker's fitter makes the programming file from this netlist.
    pub for_fitter: bool,
    pub(super) lines: Vec<SharedLine>,
    pub(super) cells: Vec<Cell>,
}

impl Netlist {
    /// The netlist of a fitted device.
    pub fn of(fitted: &Fitted) -> Self {
        let mut names = Names::new();
        let name = names.fresh(&fitted.circuit, "device");
        let ports = ports(fitted, &mut names);
        let levels = levels(fitted, &mut names);
        let mut builder =
            Builder { fitted, ports: &ports, levels: &levels, names, lines: Vec::new(), known: BTreeMap::new() };
        let cells = (0..fitted.cells.len()).filter_map(|i| builder.cell(i)).collect();
        let lines = builder.lines;
        Netlist {
            name,
            circuit: fitted.circuit.clone(),
            device: fitted.device,
            port: fitted.port.clone(),
            for_fitter: fitted.for_fitter,
            lines,
            cells,
            ports,
        }
    }

    /// The names of everything that isn't a port, with whether it holds a bit.
    pub(super) fn inner(&self) -> impl Iterator<Item = (&str, bool)> {
        let lines = self.lines.iter().map(|l| (l.name.as_str(), false));
        let cells = self.cells.iter().flat_map(|c| {
            let next = match &c.holder {
                Holder::Register { next, .. } => Some((next.as_str(), false)),
                Holder::None | Holder::Latch { .. } => None,
            };
            next.into_iter().chain(c.level.as_deref().map(|l| (l, c.holder != Holder::None)))
        });
        lines.chain(cells)
    }
}

fn ports(fitted: &Fitted, names: &mut Names) -> Vec<Port> {
    let logic = &fitted.logic;
    let mut ports: Vec<Port> = Vec::new();
    let inputs = logic.inputs.iter().map(|i| (i.label.clone(), i.name.clone(), Direction::In));
    let outputs = logic.outputs.iter().map(|o| {
        let always = o.enable == Diagram::HIGH && o.stage != Stage::OpenCollector;
        (o.label.clone(), o.name.clone(), if always { Direction::Out } else { Direction::Both })
    });
    for (label, signal, direction) in inputs.chain(outputs) {
        let pins = fitted.pins_of(&label);
        if !pins.is_empty() {
            ports.push(Port { name: String::new(), label, signal, pins, direction });
        }
    }
    ports.sort_by(|a, b| a.label.cmp(&b.label));
    for port in &mut ports {
        port.name = names.fresh(&port.signal, "pin");
    }
    ports
}

/// A name for the level of each macrocell.
fn levels(fitted: &Fitted, names: &mut Names) -> Vec<String> {
    let name = |cell: &FittedCell| match (&cell.label, cell.holds.first()) {
        (Some(_), _) => format!("{}_level", cell.name),
        (None, Some((_, true))) => format!("{}_inverted", cell.name),
        (None, _) => cell.name.clone(),
    };
    fitted.cells.iter().map(|c| names.fresh(&name(c), "held")).collect()
}

struct Builder<'a> {
    fitted: &'a Fitted,
    ports: &'a [Port],
    levels: &'a [String],
    names: Names,
    lines: Vec<SharedLine>,
    known: BTreeMap<(Term, Option<String>), String>,
}

impl Builder<'_> {
    fn port(&self, label: &Label) -> Option<&Port> {
        self.ports.iter().find(|p| &p.label == label)
    }

    /// The name that carries a variable, and whether it is its complement.
    fn carrier(&self, variable: usize) -> Option<(String, bool)> {
        let logic = &self.fitted.logic;
        if let Some(input) = logic.inputs.iter().find(|i| i.variable == variable) {
            return Some((self.port(&input.label)?.name.clone(), false));
        }
        let cells = || self.fitted.cells.iter().zip(self.levels);
        if let Some(index) = logic.outputs.iter().position(|o| o.read_as == Some(variable)) {
            let output = logic.outputs.get(index)?;
            let port = self.port(&output.label)?;
            // what is driven at times is read where it is driven
            if port.direction == Direction::Both {
                return Some((port.name.clone(), false));
            }
            return cells().find(|(c, _)| c.output == Some(index)).map(|(_, level)| (level.clone(), false));
        }
        cells().find_map(|(cell, level)| {
            let (_, complement) = cell.holds.iter().find(|(v, _)| *v == variable)?;
            Some((level.clone(), *complement))
        })
    }

    fn term(&self, product: &Product) -> Term {
        let literal = |&(variable, value): &(usize, bool)| {
            let (name, complement) = self.carrier(variable)?;
            Some((name, value != complement))
        };
        product.iter().filter_map(literal).collect()
    }

    /// A line for registers: a signal itself where it is one, else a name for the product.
    fn line(&mut self, what: &str, product: &Product, unless: Option<&String>) -> String {
        let term = self.term(product);
        if let ([(name, true)], None) = (term.as_slice(), unless) {
            return name.clone();
        }
        let key = (term, unless.cloned());
        if let Some(known) = self.known.get(&key) {
            return known.clone();
        }
        let wanted = match key.0.as_slice() {
            [(one, false)] if unless.is_none() => format!("{one}_low"),
            _ => format!("{what}_{}", self.lines.len() + 1),
        };
        let name = self.names.fresh(&wanted, "line");
        self.lines.push(SharedLine { name: name.clone(), term: key.0.clone(), unless: key.1.clone() });
        self.known.insert(key, name.clone());
        name
    }

    fn cell(&mut self, index: usize) -> Option<Cell> {
        let cell = self.fitted.cells.get(index)?;
        let output = cell.output.and_then(|o| self.fitted.logic.outputs.get(o));
        let port = output.and_then(|o| self.port(&o.label)).map(|p| p.name.clone());
        let driver = match &cell.drive {
            Drive::Always => Some(Driver::Always),
            Drive::While(product) => Some(Driver::While(self.term(product))),
            Drive::Never => None,
        };
        let collector = output.is_some_and(|o| o.stage == Stage::OpenCollector);
        let level = if collector { None } else { self.levels.get(index).cloned() };
        Some(Cell {
            sum: cell.terms.iter().map(|t| self.term(&t.product)).collect(),
            inverted: cell.inverted,
            holder: self.holder(cell, index),
            port: port.zip(driver),
            about: about(cell),
            level,
        })
    }

    fn holder(&mut self, cell: &FittedCell, index: usize) -> Holder {
        let control = cell.control.as_ref();
        let product = |line: Option<&crate::fit::Line>| line.map(|l| l.product.clone());
        match cell.function {
            Function::Combinational | Function::Input => Holder::None,
            Function::Latch => {
                let line = |l: Option<&crate::fit::Line>| l.map(|l| self.term(&l.product));
                Holder::Latch {
                    gate: line(control.and_then(|c| c.gate.as_ref())),
                    clear: line(control.and_then(|c| c.clear.as_ref())),
                    preset: line(control.and_then(|c| c.preset.as_ref())),
                }
            }
            Function::Registered => {
                let (clock, clear, preset) = match control {
                    Some(c) => (product(c.gate.as_ref()), product(c.clear.as_ref()), product(c.preset.as_ref())),
                    None => self.shared(cell),
                };
                let clock = clock.unwrap_or_else(|| self.fitted.clock.map(|v| vec![(v, true)]).unwrap_or_default());
                let clock = self.line("clock", &clock, None);
                let clear = clear.map(|p| self.line("clear", &p, None));
                let preset = preset.map(|p| self.line("preset", &p, clear.as_ref()));
                let level = self.levels.get(index).cloned().unwrap_or_default();
                let next = self.names.fresh(&format!("{level}_next"), "line");
                Holder::Register { clock, clear, preset, start: self.start(cell), next }
            }
        }
    }

    /// Clock, clear and preset of a register on a device whose registers share them.
    fn shared(&self, cell: &FittedCell) -> (Option<Product>, Option<Product>, Option<Product>) {
        let Some((register, shown)) = self.register(cell) else { return (None, None, None) };
        let Some(reset) = self.fitted.reset.clone() else { return (None, None, None) };
        let high = (register.clear == Diagram::LOW) != shown;
        if high { (None, None, Some(reset)) } else { (None, Some(reset), None) }
    }

    fn register(&self, cell: &FittedCell) -> Option<(&crate::logic::Register, bool)> {
        self.fitted.logic.registers.iter().find_map(|r| {
            let (_, shown) = cell.holds.iter().find(|(v, _)| *v == r.variable)?;
            Some((r, *shown))
        })
    }

    /// The level at power-up. What a maker's fitter makes of an open start is its own affair, so only a declared one
    /// is written for it.
    fn start(&self, cell: &FittedCell) -> Option<bool> {
        if !self.fitted.for_fitter {
            return self.fitted.power_up[usize::from(cell.inverted)];
        }
        let (register, shown) = self.register(cell)?;
        match register.start {
            Start::Any => None,
            declared => declared.level().map(|level| level != shown),
        }
    }
}

fn about(cell: &FittedCell) -> String {
    let what = match cell.function {
        Function::Registered => "register",
        Function::Latch => "latch",
        Function::Combinational | Function::Input => "logic",
    };
    let place = if cell.control.is_some() { format!(", macrocell {}", cell.macrocell) } else { String::new() };
    match &cell.label {
        Some(label) => format!("{}: {what}, contact {label}{place}", cell.name),
        None => format!("{}: {what}, buried{place}", cell.name),
    }
}
