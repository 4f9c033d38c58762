//! A board as rows again, and the parts on it as a library: for whoever writes or reads it anew.
use std::collections::HashMap;

use super::Board;
use super::alter::written;
use super::library::{Library, Part};
use super::package::{Fitted, Package};
use super::sheet::Row;
use super::vocabulary::Wire;
use crate::circuit::Origin;

impl Board {
    /// The rows of the trace, as its packages keep them.
    pub(super) fn rows(&self) -> Vec<Row> {
        let row = |p: &Package, pin: &str, wire: &Wire, origin: &Origin| Row {
            reference: p.reference.clone(),
            part: match p.fitted {
                // whatever made it stay
                Fitted::Stays(_) => format!("stays {}", p.part),
                _ => p.part.clone(),
            },
            pin: pin.to_owned(),
            net: written(wire).to_owned(),
            origin: origin.clone(),
        };
        let mut rows = Vec::new();
        for p in &self.packages {
            rows.extend(p.pins.iter().map(|pin| row(p, pin.label.as_str(), &pin.wire, &pin.origin)));
            rows.extend(p.others.iter().map(|(wire, origin)| row(p, "others", wire, origin)));
        }
        rows
    }
}

/// The parts of a board.
pub(super) struct Drawer(HashMap<String, Part>);

impl Drawer {
    pub(super) fn of(board: &Board) -> Drawer {
        let own = board.packages.iter().filter_map(|p| Some((p.part.to_uppercase(), Part::clone(p.chip()?))));
        Drawer(own.collect())
    }
}

impl Library for Drawer {
    fn part(&self, type_number: &str) -> Option<Part> {
        self.0.get(&type_number.to_uppercase()).cloned()
    }

    fn names(&self) -> Vec<String> {
        self.0.keys().cloned().collect()
    }
}
