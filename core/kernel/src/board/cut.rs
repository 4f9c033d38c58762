//! A cluster of a board as a board of its own: its packages, and a contact for every net that leaves them.
use std::collections::HashMap;

use super::again::Drawer;
use super::finding::Findings;
use super::keep::KeepError;
use super::nets::Role;
use super::package::Fitted;
use super::sheet::Row;
use super::vocabulary::{Passive, pin_label};
use super::{Board, assemble};
use crate::circuit::Label;

impl Board {
    /// These packages alone, as a trace: what they share with the rest of the board is contacts, with the labels that
    /// [`replacing`](Board::replacing) gives them. Resistors that touch nothing else come along. What stands in for this board at
    /// its contacts stands in for these packages on the whole one, whatever the rest of it does.
    ///
    /// # Errors
    /// As [`replacing`](Board::replacing).
    pub fn cut_to<S: AsRef<str>>(&self, references: &[S]) -> Result<Board, KeepError> {
        let remainder = self.replacing(references)?;
        let is_replaced = |reference: &str| remainder.replaced.iter().any(|(r, _)| r == reference);
        let boundary: HashMap<&str, &Label> =
            remainder.joints.iter().filter(|j| j.is_rest).map(|j| (j.net.as_str(), &j.label)).collect();
        let mut rows: Vec<Row> = Vec::new();
        let all = self.rows();
        let reference = free(&all);
        for net in self.nets.all() {
            let Some(label) = boundary.get(net.name.as_str()) else { continue };
            rows.push(Row {
                reference: reference.clone(),
                part: "contacts".to_owned(),
                pin: label.as_str().to_owned(),
                net: net.name.clone(),
                origin: net.origin.clone(),
            });
        }
        // nets that jumpers and series resistors have joined go by one name
        let joined = |row: &Row| self.nets.find(&row.net).and_then(|at| self.nets.all().get(at));
        let inner = |row: &Row| {
            joined(row).is_some_and(|net| {
                net.supply.is_some()
                    || !boundary.contains_key(net.name.as_str())
                        && net.uses.iter().any(|u| {
                            matches!(u.role, Role::Pin(_))
                                && self.packages.get(u.package).is_some_and(|p| is_replaced(&p.reference))
                        })
            })
        };
        for package in &self.packages {
            let of = || all.iter().filter(|row| row.reference == package.reference);
            let is_resistor = matches!(package.fitted, Fitted::Passive(Passive::Resistors { .. }));
            let ends = || of().filter_map(joined);
            let is_between = ends().any(|net| Some(&net.name) != ends().next().map(|first| &first.name));
            let comes_along = is_resistor && is_between && of().all(inner) && ends().any(|net| net.supply.is_none());
            if !is_replaced(&package.reference) && !comes_along {
                continue;
            }
            rows.extend(of().map(|row| {
                let net = joined(row).map_or_else(|| row.net.clone(), |net| net.name.clone());
                Row { pin: pin_label(&row.pin).as_str().to_owned(), net, ..row.clone() }
            }));
        }
        let drawer = Drawer::of(self);
        let name = format!("{}_cluster", self.name);
        Ok(assemble::board(name, self.trace.clone(), rows, &drawer, &self.reading, Findings::default())?)
    }
}

/// A reference that no row has.
fn free(rows: &[Row]) -> String {
    let is_free = |name: &String| !rows.iter().any(|row| row.reference.eq_ignore_ascii_case(name));
    (1..).map(|n| format!("CUT{n}")).find(is_free).unwrap_or_default()
}
