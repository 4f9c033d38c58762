//! A circuit as a transition relation in a certificate: as it stands, nothing folded and nothing left out.
use crate::circuit::{Circuit, Expr, Kind, Op, Pull, Stage};

use super::form::{Contact, Driver, Element, Expression, Net, System};

/// The circuit, written.
pub(super) fn written(circuit: &Circuit) -> System {
    let expressions = circuit.expressions().map(|e| match circuit.op(e) {
        Op::Constant(v) => Expression::Constant(v),
        Op::Net(n) => Expression::Net(n.index()),
        Op::Q(e) => Expression::Q(e.index()),
        Op::QInverted(e) => Expression::QInverted(e.index()),
        Op::Not(a) => Expression::Not(a.index()),
        Op::And(a, b) => Expression::And(a.index(), b.index()),
        Op::Or(a, b) => Expression::Or(a.index(), b.index()),
        Op::Xor(a, b) => Expression::Xor(a.index(), b.index()),
        Op::Choose(a, b, c) => Expression::Choose(a.index(), b.index(), c.index()),
    });
    let nets = circuit.nets().iter().map(|n| Net {
        name: n.name.clone(),
        pull: match n.pull {
            Pull::None => None,
            pull => Some(pull == Pull::Up),
        },
        drivers: n
            .drivers
            .iter()
            .map(|d| Driver {
                name: d.by.to_string(),
                enable: d.enable.index(),
                level: d.level.index(),
                stage: match d.stage {
                    Stage::PushPull => "push_pull",
                    Stage::ThreeState => "three_state",
                    Stage::OpenCollector => "open_collector",
                },
            })
            .collect(),
    });
    let elements = circuit.elements().iter().enumerate().map(|(i, e)| {
        let (kind, gate, data) = match e.kind {
            Kind::Register { clock, data } => ("register", clock, data),
            Kind::Latch { open, data } => ("latch", open, data),
        };
        let unknown = circuit.loads_unknown(crate::circuit::ElementId(i as u32));
        Element {
            name: e.name.clone(),
            kind,
            inputs: [gate, data, e.clear, e.preset, unknown].map(Expr::index),
            start: e.start.level(),
        }
    });
    let contacts = circuit.contacts().iter().map(|c| Contact {
        label: c.label.to_string(),
        name: c.name.clone(),
        net: c.net.index(),
    });
    System {
        name: circuit.name.clone(),
        expressions: expressions.collect(),
        nets: nets.collect(),
        elements: elements.collect(),
        contacts: contacts.collect(),
    }
}
