//! Values of a circuit's expressions for given pins and registers, without time: an evaluator of its own, so that the
//! tests don't lean on the machine.
use std::collections::BTreeMap;

use gluewright::circuit::{Circuit, Expr, Kind, Label, Op};

/// Levels of pins and contents of registers, by pin number. What isn't listed is low.
#[derive(Clone, Debug, Default)]
pub(crate) struct Levels {
    pub(crate) pins: BTreeMap<u16, bool>,
    pub(crate) registers: BTreeMap<u16, bool>,
}

impl Levels {
    pub(crate) fn high(pins: &[u16]) -> Self {
        Levels { pins: pins.iter().map(|&p| (p, true)).collect(), registers: BTreeMap::new() }
    }

    pub(crate) fn holding(mut self, registers: &[u16]) -> Self {
        self.registers = registers.iter().map(|&p| (p, true)).collect();
        self
    }
}

fn number(name: &str) -> u16 {
    name.rsplit(' ').next().unwrap().parse().unwrap()
}

pub(crate) fn value(circuit: &Circuit, e: Expr, levels: &Levels) -> bool {
    let of = |e| value(circuit, e, levels);
    match circuit.op(e) {
        Op::Constant(v) => v,
        Op::Net(n) => levels.pins.get(&number(&circuit.nets()[n.index()].name)).copied().unwrap_or(false),
        Op::Q(r) => levels.registers.get(&number(&circuit.elements()[r.index()].name)).copied().unwrap_or(false),
        Op::QInverted(r) => {
            !levels.registers.get(&number(&circuit.elements()[r.index()].name)).copied().unwrap_or(false)
        }
        Op::Not(a) => !of(a),
        Op::And(a, b) => of(a) && of(b),
        Op::Or(a, b) => of(a) || of(b),
        Op::Xor(a, b) => of(a) != of(b),
        Op::Choose(c, a, b) => {
            if of(c) {
                of(a)
            } else {
                of(b)
            }
        }
    }
}

/// What a pin shows: a level, or `None` while it floats.
pub(crate) fn pin(circuit: &Circuit, pin: u16, levels: &Levels) -> Option<bool> {
    let contact = circuit.find_contact(&Label::from(pin)).unwrap();
    let net = &circuit.nets()[circuit.contacts()[contact.index()].net.index()];
    assert!(net.drivers.len() <= 1, "pin {pin} has {} drivers", net.drivers.len());
    let driver = net.drivers.first()?;
    value(circuit, driver.enable, levels).then(|| value(circuit, driver.level, levels))
}

/// A register's next content on a clock edge, whether it is being cleared, and its clock level.
pub(crate) fn register(circuit: &Circuit, pin: u16, levels: &Levels) -> Option<(bool, bool, bool)> {
    let id = circuit.find_element(&format!("register {pin}"))?;
    let element = &circuit.elements()[id.index()];
    let Kind::Register { clock, data } = element.kind else { panic!("pin {pin} holds a latch") };
    assert_eq!(element.preset, Expr::LOW);
    Some((value(circuit, data, levels), value(circuit, element.clear, levels), value(circuit, clock, levels)))
}
