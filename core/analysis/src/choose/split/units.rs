//! What a split moves around: one unit for each macrocell that the circuit needs, with the nets that it reads and drives.
use std::collections::BTreeMap;

use gluewright_devices::logic::{Diagram, Logic, Output};
use gluewright_kernel::circuit::{ContactId, Stage};

/// The most units.
pub(super) const MOST_UNITS: usize = 128;

/// The most nets: bits of a [`Set`].
pub(super) const MOST_NETS: usize = 256;

/// A set of nets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Set([u128; 2]);

impl Set {
    pub(super) fn insert(&mut self, net: usize) {
        if let Some(word) = self.0.get_mut(net / 128) {
            *word |= 1 << (net % 128);
        }
    }

    pub(super) fn or(self, other: Set) -> Set {
        Set([self.0[0] | other.0[0], self.0[1] | other.0[1]])
    }

    pub(super) fn and(self, other: Set) -> Set {
        Set([self.0[0] & other.0[0], self.0[1] & other.0[1]])
    }

    pub(super) fn without(self, other: Set) -> Set {
        Set([self.0[0] & !other.0[0], self.0[1] & !other.0[1]])
    }

    pub(super) fn len(self) -> usize {
        (self.0[0].count_ones() + self.0[1].count_ones()) as usize
    }
}

/// What one macrocell is needed for.
#[derive(Clone, Debug, Default)]
pub(super) struct Unit {
    /// Index in [`Logic::outputs`], if it has a contact.
    pub(super) output: Option<usize>,
    /// The variable of the register, latch or node that it holds.
    pub(super) held: Option<usize>,
    /// The contact, always driven, that shows what is held, and whether it shows the complement.
    pub(super) carrier: Option<(ContactId, bool)>,
    /// The nets that it reads, its clock included.
    pub(super) reads: Set,
    /// The nets that it drives: contacts, and what it holds.
    pub(super) drives: Set,
    /// The net of what it holds, if another device that reads it costs a second macrocell.
    pub(super) copied: Set,
    /// Conditions that take a node of their own: one bit each.
    pub(super) conditions: u64,
    /// The clock of its register: one bit each.
    pub(super) clock: u64,
    /// The reset of its register, or that it has none: one bit each.
    pub(super) reset: u64,
}

/// All units of a circuit.
#[derive(Clone, Debug)]
pub(super) struct Units {
    pub(super) list: Vec<Unit>,
    /// How many nets there are.
    pub(super) nets: usize,
}

/// The identity of a net.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Net {
    Contact(ContactId),
    Variable(usize),
}

#[derive(Default)]
struct Numbers {
    nets: BTreeMap<Net, usize>,
    conditions: BTreeMap<Diagram, u32>,
    clocks: BTreeMap<Diagram, u32>,
    resets: BTreeMap<Option<Diagram>, u32>,
}

fn bit<K: Ord>(of: &mut BTreeMap<K, u32>, key: K) -> u64 {
    let next = of.len() as u32;
    // with more than 64 kinds some share a bit; the fit tells them apart
    1 << (*of.entry(key).or_insert(next) % 64)
}

impl Numbers {
    fn net(&mut self, net: Net) -> usize {
        let next = self.nets.len();
        *self.nets.entry(net).or_insert(next)
    }
}

impl Units {
    pub(super) fn of(logic: &Logic) -> Units {
        let mut list: Vec<Unit> = Vec::new();
        let homed = |list: &[Unit], v: usize| list.iter().any(|u: &Unit| u.held == Some(v));
        for (index, output) in logic.outputs.iter().enumerate() {
            let mut unit = Unit { output: Some(index), ..Unit::default() };
            if let Some((variable, inverted)) = output.shows.filter(|(v, _)| merges(logic, output, *v))
                && !homed(&list, variable)
            {
                unit.held = Some(variable);
                unit.carrier = (output.enable == Diagram::HIGH).then_some((output.contact, inverted));
            }
            list.push(unit);
        }
        let registers = logic.registers.iter().map(|r| r.variable);
        let latches = logic.latches.iter().map(|l| l.variable);
        let nodes = logic.nodes.iter().map(|n| n.variable);
        for variable in registers.chain(latches).chain(nodes) {
            if !homed(&list, variable) {
                list.push(Unit { held: Some(variable), ..Unit::default() });
            }
        }
        let mut numbers = Numbers::default();
        let mut at: BTreeMap<usize, usize> = BTreeMap::new();
        for input in &logic.inputs {
            at.insert(input.variable, numbers.net(Net::Contact(input.contact)));
        }
        for output in &logic.outputs {
            let net = numbers.net(Net::Contact(output.contact));
            at.extend(output.read_as.map(|v| (v, net)));
        }
        for unit in &list {
            if let Some(v) = unit.held {
                let net = unit.carrier.map_or(Net::Variable(v), |(contact, _)| Net::Contact(contact));
                at.insert(v, numbers.net(net));
            }
        }
        for unit in &mut list {
            complete(unit, logic, &at, &mut numbers);
        }
        Units { nets: numbers.nets.len(), list }
    }
}

/// Whether the macrocell of an output can hold what it shows, as the fit decides it.
fn merges(logic: &Logic, output: &Output, variable: usize) -> bool {
    if output.stage == Stage::OpenCollector {
        return false;
    }
    if logic.registers.iter().any(|r| r.variable == variable) {
        return output.read_as.is_none();
    }
    let plain =
        logic.latches.iter().any(|l| l.variable == variable) || logic.nodes.iter().any(|n| n.variable == variable);
    plain && output.enable == Diagram::HIGH
}

/// What a unit reads and drives.
fn complete(unit: &mut Unit, logic: &Logic, at: &BTreeMap<usize, usize>, numbers: &mut Numbers) {
    let mut functions: Vec<Diagram> = Vec::new();
    let condition = |d: Diagram, numbers: &mut Numbers| {
        if logic.diagrams.as_product(d).is_none() { bit(&mut numbers.conditions, d) } else { 0 }
    };
    if let Some(output) = unit.output.and_then(|o| logic.outputs.get(o)) {
        let net = numbers.net(Net::Contact(output.contact));
        unit.drives.insert(net);
        functions.push(output.enable);
        unit.conditions |= condition(output.enable, numbers);
        if unit.held.is_none() {
            functions.push(output.level);
        }
    }
    if let Some(held) = unit.held {
        let net = at.get(&held).copied();
        if let Some(net) = net {
            unit.drives.insert(net);
            if unit.output.is_some() && unit.carrier.is_none() {
                unit.copied.insert(net);
            }
        }
        if let Some(r) = logic.registers.iter().find(|r| r.variable == held) {
            functions.extend([r.clock, r.data, r.clear, r.preset]);
            unit.clock = bit(&mut numbers.clocks, r.clock);
            let reset = [r.clear, r.preset].into_iter().find(|&d| d != Diagram::LOW);
            unit.reset = bit(&mut numbers.resets, reset);
            unit.conditions |= reset.map_or(0, |d| condition(d, numbers));
        }
        functions.extend(logic.latches.iter().find(|l| l.variable == held).map(|l| l.follow));
        functions.extend(logic.nodes.iter().find(|n| n.variable == held).map(|n| n.level));
    }
    for function in functions {
        for variable in logic.diagrams.support(function) {
            if let Some(&net) = at.get(&variable) {
                unit.reads.insert(net);
            }
        }
    }
}
