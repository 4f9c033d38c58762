//! A circuit: nets with their drivers, registers and latches, contacts; and parts placed in it.
use std::collections::HashMap;

use serde::Deserialize;

use crate::part::{Func, Part, Role};

/// An expression of a circuit, by number; operands stand before what uses them.
pub type Id = usize;

/// What an expression is.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(rename_all = "snake_case")]
pub enum Op {
    /// Always this.
    Constant(bool),
    /// The level of a net.
    Net(usize),
    /// What an element holds.
    #[serde(rename = "q")]
    Held(usize),
    /// The complementary output of an element.
    #[serde(rename = "q_inverted")]
    Complement(usize),
    /// Not.
    Not(Id),
    /// All of them.
    #[serde(rename = "and")]
    All(Vec<Id>),
    /// Any of them.
    #[serde(rename = "or")]
    Any(Vec<Id>),
    /// Exactly one.
    Xor(Id, Id),
    /// The second while the first, else the third.
    Choose(Id, Id, Id),
}

/// A resistor from a net to a rail.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Pull {
    /// None.
    #[default]
    None,
    /// Up.
    Up,
    /// Down.
    Down,
}

/// The stage behind an output.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Drives at all times.
    PushPull,
    /// Drives at times.
    ThreeState,
    /// Pulls low or lets go.
    OpenCollector,
}

/// An output on a net.
#[derive(Clone, Debug, Deserialize)]
pub struct Driver {
    /// While it drives.
    pub enable: Id,
    /// What it drives.
    pub level: Id,
    /// The stage behind it.
    pub stage: Stage,
}

/// A net.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Net {
    /// Its name.
    pub name: String,
    /// The outputs on it.
    pub drivers: Vec<Driver>,
    /// Its resistor.
    pub pull: Pull,
    /// The contact on it, by position.
    #[serde(skip)]
    pub contact: Option<usize>,
    /// An input that is not of TTL is on it: it does not read high where nobody ever drives it.
    #[serde(skip)]
    pub may_float: bool,
}

/// What an element is.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Loads when its clock rises.
    Register,
    /// Follows while it is open.
    Latch,
}

/// A register or latch.
#[derive(Clone, Debug, Deserialize)]
pub struct Element {
    /// Its name.
    pub name: String,
    /// Which of the two.
    pub kind: Kind,
    /// The clock that rises, or the condition while it is open.
    pub gate: Id,
    /// What it takes.
    pub data: Id,
    /// Low at once.
    pub clear: Id,
    /// High at once.
    pub preset: Id,
    /// An edge after which nobody knows what it holds.
    pub unknown: Id,
    /// What it holds at power-up, if that is known.
    pub start: Option<bool>,
}

/// A contact.
#[derive(Clone, Debug, Deserialize)]
pub struct Contact {
    /// Its label.
    pub label: String,
    /// The net behind it.
    pub net: usize,
}

/// A circuit.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Model {
    /// Expressions.
    #[serde(rename = "expressions")]
    pub ops: Vec<Op>,
    /// Nets.
    pub nets: Vec<Net>,
    /// Registers and latches.
    pub elements: Vec<Element>,
    /// Contacts.
    pub contacts: Vec<Contact>,
    /// Other names for nets.
    #[serde(skip)]
    pub also: HashMap<String, usize>,
}

/// Where a pin goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wire {
    /// On this net.
    Net(usize),
    /// On a rail.
    Rail(bool),
    /// Nowhere.
    Open,
}

impl Model {
    /// A new net.
    pub fn net(&mut self, name: impl Into<String>) -> usize {
        self.nets.push(Net { name: name.into(), ..Net::default() });
        self.nets.len() - 1
    }

    /// A new expression.
    pub fn op(&mut self, op: Op) -> Id {
        self.ops.push(op);
        self.ops.len() - 1
    }

    /// A contact on a net.
    pub fn contact(&mut self, label: impl Into<String>, net: usize) {
        if let Some(n) = self.nets.get_mut(net) {
            n.contact = Some(self.contacts.len());
        }
        self.contacts.push(Contact { label: label.into(), net });
    }

    /// Contacts beside the first of one net: a net for each, driven as that is, so that each is compared.
    pub fn join(&mut self, net: usize, others: &[String]) {
        for label in others {
            let Some(lead) = self.nets.get(net).cloned() else { continue };
            let name = format!("{} at contact {label}", lead.name);
            self.nets.push(Net { name, contact: None, ..lead });
            self.contact(label.clone(), self.nets.len() - 1);
        }
    }

    /// A contact that copper ties to a rail.
    pub fn strap(&mut self, label: &str, high: bool) {
        let net = self.net(format!("supply at contact {label}"));
        let (enable, level) = (self.op(Op::Constant(true)), self.op(Op::Constant(high)));
        self.drive(net, Driver { enable, level, stage: Stage::PushPull });
        self.contact(label, net);
    }

    /// The net of this name.
    pub fn find_net(&self, name: &str) -> Option<usize> {
        self.nets.iter().position(|n| n.name == name).or_else(|| self.also.get(name).copied())
    }

    /// Places a part: its inner nets and elements are called `reference.name`.
    ///
    /// # Errors
    /// If an output is on a rail.
    pub fn place(&mut self, reference: &str, part: &Part, wire: impl Fn(&str) -> Wire) -> Result<(), String> {
        let mut wires = Vec::with_capacity(part.pins.len());
        for pin in &part.pins {
            let mut at = wire(&pin.number);
            let drives = part.outputs.iter().any(|o| part.pins.get(o.pin).is_some_and(|p| p.number == pin.number));
            if matches!(at, Wire::Rail(_)) && drives {
                return Err(format!("{reference} pin {} is an output on a supply rail", pin.number));
            }
            if at == Wire::Open && !matches!(pin.role, Role::Vcc | Role::Gnd | Role::Unconnected) {
                let net = self.net(format!("{reference} pin {}", pin.number));
                self.also.insert(format!("{reference}.pin {}", pin.number), net);
                at = Wire::Net(net);
            }
            let reads = matches!(pin.role, Role::Input | Role::Bus);
            if let (Wire::Net(n), true) = (at, reads && !part.is_ttl)
                && let Some(net) = self.nets.get_mut(n)
            {
                net.may_float = true;
            }
            wires.push(at);
        }
        let nodes: Vec<usize> = part.nodes.iter().map(|(name, _)| self.net(format!("{reference}.{name}"))).collect();
        let first = self.elements.len();
        let at = Placing { wires: &wires, nodes: &nodes, first };
        for e in &part.elements {
            let [gate, data, clear, preset, unknown] =
                [&e.gate, &e.data, &e.clear, &e.preset, &e.unknown].map(|f| self.func(f, &at));
            let (name, kind, start) = (format!("{reference}.{}", e.name), e.kind, e.start);
            self.elements.push(Element { name, kind, gate, data, clear, preset, unknown, start });
        }
        for ((_, value), &net) in part.nodes.iter().zip(&nodes) {
            let (enable, level) = (self.op(Op::Constant(true)), self.func(value, &at));
            self.drive(net, Driver { enable, level, stage: Stage::PushPull });
        }
        for output in &part.outputs {
            let Some(&Wire::Net(net)) = wires.get(output.pin) else { continue };
            let (enable, level) = (self.func(&output.enable, &at), self.func(&output.level, &at));
            let stage = match part.pins.get(output.pin).map(|p| p.role) {
                Some(Role::OpenCollector) => Stage::OpenCollector,
                _ => Stage::ThreeState,
            };
            self.drive(net, Driver { enable, level, stage });
        }
        Ok(())
    }

    fn drive(&mut self, net: usize, driver: Driver) {
        if let Some(net) = self.nets.get_mut(net) {
            net.drivers.push(driver);
        }
    }

    fn func(&mut self, func: &Func, at: &Placing<'_>) -> Id {
        let op = match func {
            Func::Constant(v) => Op::Constant(*v),
            Func::Pin(p) => match at.wires.get(*p) {
                Some(&Wire::Net(net)) => Op::Net(net),
                Some(&Wire::Rail(high)) => Op::Constant(high),
                _ => Op::Constant(true),
            },
            Func::Node(n) => at.nodes.get(*n).map_or(Op::Constant(false), |&net| Op::Net(net)),
            Func::Held(e) => Op::Held(at.first + e),
            Func::Complement(e) => Op::Complement(at.first + e),
            Func::Not(a) => Op::Not(self.func(a, at)),
            Func::All(all) => Op::All(all.iter().map(|a| self.func(a, at)).collect()),
            Func::Any(all) => Op::Any(all.iter().map(|a| self.func(a, at)).collect()),
            Func::Xor(a, b) => Op::Xor(self.func(a, at), self.func(b, at)),
        };
        self.op(op)
    }
}

struct Placing<'p> {
    wires: &'p [Wire],
    nodes: &'p [usize],
    /// The number of the part's first element.
    first: usize,
}
