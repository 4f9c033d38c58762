//! Which inputs a settled output can follow at once or on a clock: the paths that need a delay.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Direction, ElementId, Expr, Kind, Label, NetId, Op};

/// The inputs from which a change reaches this output without waiting for a clock, and the clocks that make it change.
pub(super) fn inputs_of(circuit: &Circuit, output: &Label) -> BTreeSet<Label> {
    let mut walk = Walk {
        circuit,
        found: BTreeSet::new(),
        nets: BTreeSet::new(),
        elements: BTreeSet::new(),
        seen: BTreeSet::new(),
    };
    if let Some(contact) = circuit.contacts().iter().find(|c| &c.label == output) {
        walk.drivers(contact.net);
    }
    walk.found.remove(output);
    walk.found
}

struct Walk<'a> {
    circuit: &'a Circuit,
    found: BTreeSet<Label>,
    nets: BTreeSet<usize>,
    elements: BTreeSet<usize>,
    seen: BTreeSet<usize>,
}

impl Walk<'_> {
    fn drivers(&mut self, net: NetId) {
        let drivers = self.circuit.nets().get(net.index()).map_or(&[][..], |n| &n.drivers);
        for driver in drivers {
            self.expression(driver.enable);
            self.expression(driver.level);
        }
    }

    fn net(&mut self, net: NetId) {
        if !self.nets.insert(net.index()) {
            return;
        }
        let contact = self.circuit.nets().get(net.index()).and_then(|n| n.contact);
        match contact.and_then(|c| self.circuit.contacts().get(c.index())) {
            Some(contact) if contact.direction != Direction::Output => {
                self.found.insert(contact.label.clone());
            }
            _ => self.drivers(net),
        }
    }

    /// A register's data wait for its clock; a latch's don't.
    fn element(&mut self, element: ElementId) {
        if !self.elements.insert(element.index()) {
            return;
        }
        let Some(e) = self.circuit.elements().get(element.index()) else { return };
        self.expression(e.clear);
        self.expression(e.preset);
        match e.kind {
            Kind::Register { clock, data: _ } => self.expression(clock),
            Kind::Latch { open, data } => {
                self.expression(open);
                self.expression(data);
            }
        }
    }

    fn expression(&mut self, e: Expr) {
        if !self.seen.insert(e.index()) {
            return;
        }
        match self.circuit.op(e) {
            Op::Constant(_) => {}
            Op::Net(net) => self.net(net),
            Op::Q(element) | Op::QInverted(element) => self.element(element),
            Op::Not(a) => self.expression(a),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => {
                self.expression(a);
                self.expression(b);
            }
            Op::Choose(when, then, otherwise) => {
                self.expression(when);
                self.expression(then);
                self.expression(otherwise);
            }
        }
    }
}
