//! A circuit: nets with their drivers, registers and latches, contacts; and parts placed in it.
use std::collections::HashMap;

use anyhow::{Result, ensure};
use serde::Deserialize;

use crate::graph::{Graph, OPEN, Rails, known, sure};
use crate::part::{Part, Role};

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
    /// An odd number of them.
    Xor(Vec<Id>),
    /// The second while the first, else the third.
    Choose([Id; 3]),
}

impl Op {
    /// The expressions that it is made of.
    pub fn operands(&self) -> &[Id] {
        match self {
            Op::Constant(_) | Op::Net(_) | Op::Held(_) | Op::Complement(_) => &[],
            Op::Not(a) => std::slice::from_ref(a),
            Op::All(all) | Op::Any(all) | Op::Xor(all) => all,
            Op::Choose(all) => all,
        }
    }

    /// What a gate makes of its operands; nothing for what is no gate.
    pub fn gate(&self, g: &mut Graph, at: impl Fn(Id) -> Rails) -> Option<Rails> {
        Some(match self {
            Op::Constant(high) => sure(*high),
            Op::Not(a) => (at(*a).1, at(*a).0),
            Op::All(all) => g.every(all.iter().map(|&a| at(a))),
            Op::Any(all) => g.some(all.iter().map(|&a| at(a))),
            Op::Xor(all) => all.iter().fold(sure(false), |x, &a| g.choose(at(a), (x.1, x.0), x)),
            Op::Choose([a, b, c]) => g.choose(at(*a), at(*b), at(*c)),
            Op::Net(_) | Op::Held(_) | Op::Complement(_) => return None,
        })
    }

    /// The same in a circuit where expressions and elements are counted from these numbers, and nets are wired so.
    fn placed(&self, op: usize, element: usize, wires: &[Wire]) -> Op {
        match self {
            Op::Constant(high) => Op::Constant(*high),
            Op::Net(n) => match wires[*n] {
                Wire::Net(net) => Op::Net(net),
                Wire::Rail(high) => Op::Constant(high),
                Wire::Open => Op::Constant(true),
            },
            Op::Held(e) => Op::Held(e + element),
            Op::Complement(e) => Op::Complement(e + element),
            Op::Not(a) => Op::Not(a + op),
            Op::All(all) => Op::All(all.iter().map(|a| a + op).collect()),
            Op::Any(all) => Op::Any(all.iter().map(|a| a + op).collect()),
            Op::Xor(all) => Op::Xor(all.iter().map(|a| a + op).collect()),
            Op::Choose(all) => Op::Choose(all.map(|a| a + op)),
        }
    }
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
    /// Where its resistor takes it: up is true.
    pub pull: Option<bool>,
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
    /// Its functions: the clock that rises or the condition while it is open, what it takes, low at once, high at once, and
    /// an edge after which nobody knows what it holds.
    pub inputs: [Id; 5],
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

/// What depends on others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Item {
    /// An expression.
    Op(Id),
    /// A net.
    Net(usize),
    /// A register or latch.
    Element(usize),
}

impl Model {
    /// Everything that may depend on something.
    pub fn items(&self) -> impl Iterator<Item = Item> + use<> {
        let (ops, nets, elements) = (self.ops.len(), self.nets.len(), self.elements.len());
        (0..ops).map(Item::Op).chain((0..nets).map(Item::Net)).chain((0..elements).map(Item::Element))
    }

    /// What a net, an expression or an element depends on.
    pub fn below(&self, item: Item) -> Vec<Item> {
        match item {
            Item::Net(n) => {
                let drives = self.nets[n].drivers.iter().filter(|d| self.ops[d.enable] != Op::Constant(false));
                drives.flat_map(|d| [Item::Op(d.enable), Item::Op(d.level)]).collect()
            }
            Item::Element(e) => self.elements[e].inputs.map(Item::Op).to_vec(),
            Item::Op(id) => match &self.ops[id] {
                Op::Net(n) => vec![Item::Net(*n)],
                Op::Held(e) | Op::Complement(e) => vec![Item::Element(*e)],
                op => op.operands().iter().map(|&a| Item::Op(a)).collect(),
            },
        }
    }

    /// Puts a constant where a level depends on nothing but the rails.
    pub fn fix(&mut self) {
        let known = self.known(|id, known| match self.ops[id] {
            Op::Net(n) if self.nets[n].drivers.len() == 1 => self.known_net(n, known),
            _ => None,
        });
        for (op, own) in self.ops.iter_mut().zip(&known) {
            match *op {
                _ if own.is_some() => *op = Op::Constant(*own == Some(true)),
                Op::Choose([a, b, c]) => {
                    *op = known[a].map_or(Op::Choose([a, b, c]), |a| Op::All(vec![if a { b } else { c }]))
                }
                _ => {}
            }
        }
    }

    /// The levels that are known, if of what is no gate this is known.
    pub fn known(&self, of: impl Fn(Id, &[Option<bool>]) -> Option<bool>) -> Vec<Option<bool>> {
        let (g, mut all) = (&mut Graph::default(), vec![None; self.ops.len()]);
        loop {
            let before = all.clone();
            for (id, op) in self.ops.iter().enumerate() {
                let gate = op.gate(g, |a| all[a].map_or(OPEN, sure));
                all[id] = gate.map_or_else(|| of(id, &all), known);
            }
            if before == all {
                return all;
            }
        }
    }

    /// The level of a net, if these levels say it.
    pub fn known_net(&self, at: usize, known: &[Option<bool>]) -> Option<bool> {
        let mut driven = None;
        for driver in &self.nets[at].drivers {
            if known[driver.enable]? {
                let level = known[driver.level]?;
                if driven.replace(level).is_some_and(|other| other != level) {
                    return None;
                }
            }
        }
        driven.or(self.undriven(at))
    }

    /// What a net reads while nobody drives it, if that is always the same.
    pub fn undriven(&self, net: usize) -> Option<bool> {
        let net = &self.nets[net];
        let only_lets_go = net.drivers.iter().all(|d| d.stage == Stage::OpenCollector);
        let floats = || (only_lets_go && !net.may_float).then_some(true);
        if net.contact.is_some() { None } else { net.pull.or_else(floats) }
    }

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
        self.nets[net].contact = Some(self.contacts.len());
        self.contacts.push(Contact { label: label.into(), net });
    }

    /// Contacts beside the first of one net: a net for each, driven as that is, so that each is compared.
    pub fn join(&mut self, net: usize, others: &[String]) {
        for label in others {
            let lead = self.nets[net].clone();
            let name = format!("{} at contact {label}", lead.name);
            self.nets.push(Net { name, contact: None, ..lead });
            self.contact(label.clone(), self.nets.len() - 1);
        }
    }

    /// A contact that copper ties to a rail.
    pub fn strap(&mut self, label: &str, high: bool) {
        let net = self.net(format!("supply at contact {label}"));
        let level = self.op(Op::Constant(high));
        self.drive(net, None, level, Stage::PushPull);
        self.contact(label, net);
    }

    /// An output on a net, which drives always or while this is true.
    pub fn drive(&mut self, net: usize, enable: Option<Id>, level: Id, stage: Stage) {
        let enable = enable.unwrap_or_else(|| self.op(Op::Constant(true)));
        self.nets[net].drivers.push(Driver { enable, level, stage });
    }

    /// The net of this name.
    pub fn find_net(&self, name: &str) -> Option<usize> {
        self.nets.iter().position(|n| n.name == name).or_else(|| self.also.get(name).copied())
    }

    /// The contact of this label.
    pub fn find_contact(&self, label: &str) -> Option<usize> {
        self.contacts.iter().position(|c| c.label == label)
    }

    /// Whether everything that it refers to is there.
    pub fn is_sound(&self) -> bool {
        let has = |id: &Id| *id < self.ops.len();
        let op = |(i, op): (usize, &Op)| match op {
            Op::Net(n) => *n < self.nets.len(),
            Op::Held(e) | Op::Complement(e) => *e < self.elements.len(),
            _ => op.operands().iter().all(|a| *a < i),
        };
        self.ops.iter().enumerate().all(op)
            && self.elements.iter().all(|e| e.inputs.iter().all(has))
            && self.nets.iter().flat_map(|n| &n.drivers).all(|d| has(&d.enable) && has(&d.level))
            && self.contacts.iter().all(|c| c.net < self.nets.len())
    }

    /// Places a part: its inner nets and elements are called `reference.name`.
    ///
    /// # Errors
    /// If an output is on a rail.
    pub fn place(&mut self, reference: &str, part: &Part, wire: impl Fn(&str) -> Wire) -> Result<()> {
        let mut wires = Vec::new();
        for (i, net) in part.model.nets.iter().enumerate() {
            let Some(pin) = part.pins.get(i) else {
                wires.push(Wire::Net(self.net(format!("{reference}.{}", net.name))));
                continue;
            };
            let mut at = wire(&pin.number);
            ensure!(
                !matches!(at, Wire::Rail(_)) || net.drivers.is_empty(),
                "{reference} pin {} is an output on a supply rail",
                pin.number
            );
            if at == Wire::Open && !matches!(pin.role, Role::Vcc | Role::Gnd | Role::Nc) {
                let net = self.net(format!("{reference} pin {}", pin.number));
                self.also.insert(format!("{reference}.pin {}", pin.number), net);
                at = Wire::Net(net);
            }
            if let (Wire::Net(n), Role::In | Role::Bus) = (at, pin.role) {
                self.nets[n].may_float |= !part.is_ttl;
            }
            wires.push(at);
        }
        let (op, first) = (self.ops.len(), self.elements.len());
        self.ops.extend(part.model.ops.iter().map(|o| o.placed(op, first, &wires)));
        for e in &part.model.elements {
            let name = format!("{reference}.{}", e.name);
            self.elements.push(Element { name, inputs: e.inputs.map(|id| id + op), ..*e });
        }
        for (net, wire) in part.model.nets.iter().zip(wires) {
            if let Wire::Net(n) = wire {
                net.drivers.iter().for_each(|d| self.drive(n, Some(d.enable + op), d.level + op, d.stage));
            }
        }
        Ok(())
    }
}
