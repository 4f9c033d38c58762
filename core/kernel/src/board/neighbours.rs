//! The types that could stand in the place of a card's own: the same package, pin by pin, whose outputs have
//! the same pins in their cones of influence by other logic.
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::library::{Behaviour, Library, Part, PinRole};
use super::package::Package;
use crate::circuit::{Circuit, Direction, Label, Net, NetId, Rail, Vertex};

/// Types of a library that are looked at for one card.
const MOST_TYPES: usize = 4096;
/// Neighbours that are kept of one type.
const MOST_OF_ONE: usize = 24;

/// For each type on a card, by its name, the types of its family that have its pins; those whose number looks most like
/// its own come first.
#[derive(Clone, Debug, Default)]
pub(super) struct Neighbours(Arc<BTreeMap<String, Vec<Part>>>);

impl Neighbours {
    /// Those of these packages, from the library that they came from.
    pub(super) fn of(packages: &[Package], library: &dyn Library) -> Self {
        let own: BTreeMap<&str, &Arc<Part>> =
            packages.iter().filter_map(Package::chip).map(|part| (part.name(), part)).collect();
        let families: BTreeSet<&str> = own.keys().filter_map(|name| Some(numbered(name)?.0)).collect();
        let names: BTreeSet<String> = match families.is_empty() {
            true => BTreeSet::new(),
            false => library.names().into_iter().take(MOST_TYPES).collect(),
        };
        let mut all: BTreeMap<String, Vec<Part>> = BTreeMap::new();
        for name in &names {
            if !numbered(name).is_some_and(|(family, _)| families.contains(family)) {
                continue;
            }
            let Some(other) = library.part(name).filter(|p| *p.behaviour() == Behaviour::Logic) else { continue };
            for (&own_name, part) in &own {
                let is_kin = numbered(own_name).map(|n| n.0) == numbered(other.name()).map(|n| n.0);
                let is_other = is_kin && own_name != other.name();
                if is_other && same_outline(part, &other) && hangs_on(part.circuit()) == hangs_on(other.circuit()) {
                    all.entry(own_name.to_owned()).or_default().push(other.clone());
                }
            }
        }
        for (own, others) in &mut all {
            others.sort_by_cached_key(|other| (unlike(own, other.name()), other.name().to_owned()));
            others.truncate(MOST_OF_ONE);
        }
        Neighbours(Arc::new(all))
    }

    /// Those of this type.
    pub(super) fn of_type(&self, part: &Part) -> &[Part] {
        self.0.get(part.name()).map_or(&[], Vec::as_slice)
    }
}

/// `74LS` and 240 of `74LS240`.
fn numbered(name: &str) -> Option<(&str, u32)> {
    let digits = name.len() - name.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (family, number) = name.split_at_checked(digits)?;
    Some((family, number.parse().ok()?))
}

/// How many digits of two numbers differ, and by how much the numbers do.
fn unlike(a: &str, b: &str) -> (usize, u32) {
    let [a, b] = [a, b].map(|name| numbered(name).map_or(0, |n| n.1));
    let [x, y] = [a, b].map(|n| n.to_string());
    let digits = if x.len() == y.len() {
        x.bytes().zip(y.bytes()).filter(|(x, y)| x != y).count()
    } else {
        x.len().max(y.len())
    };
    (digits, a.abs_diff(b))
}

/// Whether two types have the same pins, as far as a board can tell: supplies, inputs, outputs.
fn same_outline(a: &Part, b: &Part) -> bool {
    let kind = |role: PinRole| match role {
        PinRole::Supply(Rail::Vcc) => 0,
        PinRole::Supply(Rail::Gnd) => 1,
        PinRole::Input => 2,
        PinRole::Output(_) => 3,
        PinRole::InOut(_) => 4,
        PinRole::Unconnected => 5,
        PinRole::Analog => 6,
    };
    a.pins().map(|(l, r)| (l, kind(r))).eq(b.pins().map(|(l, r)| (l, kind(r))))
}

/// For each pin that is driven the pins on which it hangs, over registers and latches too: nobody takes a register file for
/// two flip-flops, though both have inputs and outputs at the same places.
fn hangs_on(circuit: &Circuit) -> BTreeMap<&Label, BTreeSet<&Label>> {
    let driven = circuit.contacts().iter().filter(|c| c.direction != Direction::Input);
    driven.map(|contact| (&contact.label, read_by(circuit, contact.net))).collect()
}

/// The pins in the cone of influence of a net's drivers.
fn read_by(circuit: &Circuit, net: NetId) -> BTreeSet<&Label> {
    let pin = |n: NetId| circuit.contacts().iter().find(|c| c.net == n && c.direction != Direction::Output);
    let drivers = circuit.nets().get(net.index()).into_iter().flat_map(Net::inputs);
    let cone = circuit.cone(drivers, |v| !matches!(v, Vertex::Net(n) if pin(n).is_some()));
    cone.nets().filter_map(pin).map(|contact| &contact.label).collect()
}
