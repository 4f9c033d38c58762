//! A board as what is soldered where: packages, the nets of their pins, and resistors, for checks that no logic answers.
use std::sync::Arc;

use super::Board;
use super::library::{Part, PinRole};
use super::nets::Role;
use super::package::Fitted;
use super::vocabulary::{Supply, Wire};
use crate::circuit::Label;

/// All packages and nets of a board.
#[derive(Clone, Debug)]
pub struct Netlist {
    /// The nets, in the order of the trace.
    pub nets: Vec<Net>,
    /// The packages of known types, in the order of the trace.
    pub chips: Vec<Chip>,
}

/// A net.
#[derive(Clone, Debug)]
pub struct Net {
    /// Its name in the trace.
    pub name: String,
    /// It is a rail.
    pub is_rail: bool,
    /// It is a rail that reads high.
    pub rail_is_high: bool,
    /// The contacts on it.
    pub contacts: Vec<Label>,
    /// The pins of known parts on it: position in [`Netlist::chips`], pin, what it does.
    pub pins: Vec<(usize, Label, PinRole)>,
    /// Resistors to rails: up or down, and the resistance in ohms if it was written.
    pub pulls: Vec<(bool, Option<f64>)>,
}

/// A package of a known type.
#[derive(Clone, Debug)]
pub struct Chip {
    /// Its reference in the trace: `U3`.
    pub reference: String,
    /// Its type.
    pub part: Arc<Part>,
    /// The net of each pin that is on one, in the order of the trace.
    pub pins: Vec<(Label, usize)>,
}

impl Chip {
    /// How a person calls it: `U3 (74LS109)`.
    pub fn called(&self) -> String {
        format!("{} ({})", self.reference, self.part.name())
    }

    /// The net of a pin.
    pub fn net(&self, pin: &Label) -> Option<usize> {
        self.pins.iter().find(|(label, _)| label == pin).map(|&(_, net)| net)
    }
}

impl Board {
    /// What is soldered where.
    pub fn netlist(&self) -> Netlist {
        let place: Vec<Option<usize>> = self
            .packages
            .iter()
            .scan(0, |next, package| {
                let at = package.chip().map(|_| *next);
                *next += usize::from(at.is_some());
                Some(at)
            })
            .collect();
        let nets = self.nets.all().iter().map(|net| {
            let mut seen = Net {
                name: net.name.clone(),
                is_rail: net.supply.is_some(),
                rail_is_high: net.supply.is_some_and(|s| !matches!(s, Supply::Gnd | Supply::Negative)),
                contacts: net.boundary.iter().cloned().collect(),
                pins: Vec::new(),
                pulls: net.pulls.clone(),
            };
            for used in &net.uses {
                let Some(package) = self.packages.get(used.package) else { continue };
                let Some(pin) = package.pins.get(used.pin) else { continue };
                match (used.role, place.get(used.package).copied().flatten()) {
                    (Role::Contact, _) => seen.contacts.push(pin.label.clone()),
                    (Role::Pin(role), Some(chip)) => seen.pins.push((chip, pin.label.clone(), role)),
                    _ => {}
                }
            }
            seen
        });
        let chips = self.packages.iter().filter_map(|package| {
            let Fitted::Chip(part) = &package.fitted else { return None };
            let pins = package.pins.iter().filter_map(|pin| match &pin.wire {
                Wire::Net(name) => Some((pin.label.clone(), self.nets.find(name)?)),
                _ => None,
            });
            Some(Chip { reference: package.reference.clone(), part: Arc::clone(part), pins: pins.collect() })
        });
        Netlist { nets: nets.collect(), chips: chips.collect() }
    }
}
