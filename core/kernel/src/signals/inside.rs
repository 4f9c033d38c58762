//! A circuit inside another: it is built by itself, placed, and its fields are then what the outer circuit sees of it.
use std::collections::HashMap;
use std::rc::Rc;

use super::arena::{self, Own, Slot, SlotId};
use super::derived::Shape;
use super::error::Mistake;
use super::{Wiring, build};
use crate::circuit::{By, Circuit, Direction, Label, Landing, NetId, Placed};

/// Where the fields of a circuit inside another are found.
#[derive(Clone, Debug)]
pub(super) struct Within {
    /// The field of the outer circuit.
    name: Rc<str>,
    /// The way from there to a circuit still further inside, with a dot at its end.
    path: String,
    /// The circuit that was placed, and where its nets and elements went; nothing if it can't be built.
    placed: Option<Rc<(Circuit, Placed)>>,
}

impl Within {
    /// Builds the circuit and places it in the one that is being built.
    pub(super) fn place<C: Wiring>(name: String) -> Self {
        let placed = match build::<C>() {
            Ok(circuit) => arena::innermost(|b| {
                let nets: HashMap<Label, NetId> = circuit
                    .contacts()
                    .iter()
                    .map(|c| (c.label.clone(), b.circuit.add_net(format!("{name}.{}", c.name), c.origin.clone())))
                    .collect();
                let landing = |label: &Label| nets.get(label).map_or(Landing::Open, |net| Landing::Net(*net));
                let placed = b.circuit.place(&name, &circuit, landing);
                b.wires.extend(nets.values().copied());
                for contact in circuit.contacts() {
                    let net = nets.get(&contact.label).and_then(|net| b.circuit.net_mut(*net));
                    for driver in net.into_iter().flat_map(|net| &mut net.drivers) {
                        driver.by = By::signal(format!("{name}.{}", contact.name));
                    }
                }
                (circuit, placed)
            }),
            Err(refused) => {
                let mistakes = refused.mistakes().to_vec();
                arena::innermost(|b| b.mistake(Mistake::Inside { name: name.clone(), mistakes }));
                None
            }
        };
        Within { name: name.into(), path: String::new(), placed: placed.map(Rc::new) }
    }

    /// The fields of a circuit inside this one.
    pub(super) fn deeper(&self, name: &str) -> Self {
        Within { path: format!("{}{name}.", self.path), ..self.clone() }
    }

    /// What the outer circuit sees of a field.
    pub(super) fn slot(&self, shape: &Shape, field: &str) -> SlotId {
        let inner = format!("{}{field}", self.path);
        let name = format!("{}.{inner}", self.name);
        let Some((circuit, placed)) = self.placed.as_deref() else { return SlotId::NOWHERE };
        let net = |name: &str| circuit.find_net(name).and_then(|net| placed.nets.get(net.index()).copied());
        let element = || circuit.find_element(&inner).and_then(|e| placed.elements.get(e.index()).copied());
        let (wire, own) = match shape.contact {
            Some((Direction::Input, _)) => (net(&inner), Own::Nothing),
            // whoever is outside reads the wire
            Some((Direction::Output, _)) => (net(&inner), net(&inner).map_or(Own::Nothing, Own::Net)),
            Some((Direction::InOut, _)) => {
                (net(&inner), net(&format!("{inner} (value)")).map_or(Own::Nothing, Own::Net))
            }
            None if shape.holds => (None, element().map_or(Own::Nothing, Own::Element)),
            None => (None, net(&inner).map_or(Own::Nothing, Own::Net)),
        };
        arena::innermost(|b| {
            let drivers = wire.and_then(|wire| b.circuit.nets().get(wire.index())).map_or(0, |net| net.drivers.len());
            b.add_slot(Slot { name, shape: *shape, wire, own, turned: false, drivers: Some(drivers), array: None })
        })
        .unwrap_or(SlotId::NOWHERE)
    }
}
