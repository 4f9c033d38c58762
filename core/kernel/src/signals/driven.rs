//! Whether a circuit drives a contact, as a condition that properties and assumptions can read.
use std::panic::Location;

use super::arena::{SlotId, level_of};
use super::derived::Field;
use super::error::Mistake;
use super::fields::{InOut, Output};
use super::level::Assertion;
use crate::circuit::{By, Circuit, Driver, Expr, NetId, Origin, Stage};

/// A contact that the circuit drives, or an array of them.
#[diagnostic::on_unimplemented(
    message = "`drives` asks about a contact that the circuit drives",
    label = "`{Self}` is none",
    note = "it takes an `Output` or an `InOut`, or an array of them"
)]
pub trait Drives {
    #[doc(hidden)]
    fn slots(&self) -> Vec<SlotId>;
}

impl<P, D> Drives for Output<P, D> {
    fn slots(&self) -> Vec<SlotId> {
        vec![self.slot()]
    }
}

impl<P, D> Drives for InOut<P, D> {
    fn slots(&self) -> Vec<SlotId> {
        vec![self.slot()]
    }
}

impl<T: Drives, const N: usize> Drives for [T; N] {
    fn slots(&self) -> Vec<SlotId> {
        self.iter().flat_map(Drives::slots).collect()
    }
}

/// True while the circuit drives this contact, or any contact of this array: an open collector only while it pulls low.
///
/// For properties and assumptions: in a wiring it can't be told yet, and is a mistake.
#[track_caller]
pub fn drives(contacts: impl Drives) -> Assertion {
    let origin = Origin::from(Location::caller());
    let slots = contacts.slots();
    Assertion(level_of(|b| {
        let mut wires: Vec<NetId> = Vec::new();
        let mut names: Vec<String> = Vec::new();
        for &slot in &slots {
            let Some(slot) = b.slot(slot).cloned() else {
                b.mistake(Mistake::ForeignSignal { origin: origin.clone() });
                return Expr::LOW;
            };
            if !b.is_wired {
                b.mistake(Mistake::DrivesTooEarly { name: slot.name, origin: origin.clone() });
                return Expr::LOW;
            }
            wires.extend(slot.wire);
            names.push(slot.name);
        }
        driven(&mut b.circuit, &wires, &names)
    }))
}

/// A node that is high while any driver of these wires is on.
pub(super) fn driven(circuit: &mut Circuit, wires: &[NetId], names: &[String]) -> Expr {
    let nets = wires.iter().filter_map(|w| circuit.nets().get(w.index()));
    let enables: Vec<Expr> = nets.flat_map(|n| n.drivers.iter().map(|d| d.enable)).collect();
    let any = circuit.any(enables);
    let what = match names {
        [] => "nothing".to_owned(),
        [one] => one.clone(),
        [first, .., last] => format!("{first} to {last}"),
    };
    let named = format!("drive of {what}");
    // asked for twice, it is the same node
    let node = match circuit.find_net(&named) {
        Some(node) => node,
        None => {
            let (node, origin) = (circuit.add_net(named, Origin::Nowhere), Origin::Nowhere);
            let (enable, stage, by) = (Expr::HIGH, Stage::PushPull, By::Drivers(what));
            circuit.drive(node, Driver { enable, level: any, stage, by, origin });
            node
        }
    };
    circuit.net(node)
}
