//! The term that sets all registers on the next clock edge: it takes one product term off registered sums that are too
//! wide, where every register is set by that term anyway.
//!
//! It is used only where a sum is too wide. Elsewhere it would save nothing: product terms that a macrocell has left over
//! are free, and the preset brings a recovery time of its own, which not every speed grade gives.
use super::assign::assign;
use super::demand::Demands;
use super::place::Place;
use super::{Placed, Wishes};
use crate::device::{Function, Inverter};
use crate::logic::{Diagram, Product};

/// A place for demands of which some are too wide by one term that all registers share.
pub(super) fn narrower(demands: &Demands, place: Place<'_>, wishes: &Wishes) -> Option<Placed> {
    // it sets what the registers hold, and that is the sum only where the inverter comes after them
    if place.mode.preset.is_none() || place.device.inverter != Inverter::AfterRegister {
        return None;
    }
    let mut terms = shared(demands);
    // the term that the most sums hold first
    terms.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    terms.into_iter().find_map(|(term, _)| {
        let mut with = demands.clone();
        for demand in with.list.iter_mut().filter(|d| d.function == Function::Registered) {
            demand.preset = demand.choice.terms.iter().any(|t| t.product == term).then(|| term.clone());
        }
        with.preset = Some(term);
        let assignment = assign(&with, place, wishes)?;
        Some(Placed { demands: with, assignment, signature: wishes.signature.clone() })
    })
}

/// The terms while which every register that isn't reset loads what is stored as high, each with how many sums hold it.
fn shared(demands: &Demands) -> Vec<(Product, usize)> {
    let mut diagrams = demands.logic.diagrams.clone();
    let registered: Vec<_> = demands.list.iter().filter(|d| d.function == Function::Registered).collect();
    let reset = demands.reset.as_ref().map_or(Diagram::LOW, |r| diagrams.product(r.iter().copied()));
    let sums: Vec<Diagram> = registered
        .iter()
        .map(|d| {
            d.choice.terms.iter().fold(reset, |sum, t| {
                let one = diagrams.product(t.product.iter().copied());
                diagrams.or(sum, one)
            })
        })
        .collect();
    let mut found: Vec<(Product, usize)> = Vec::new();
    for term in registered.iter().flat_map(|d| &d.choice.terms).map(|t| &t.product) {
        if let Some((_, count)) = found.iter_mut().find(|(known, _)| known == term) {
            *count += 1;
            continue;
        }
        let one = diagrams.product(term.iter().copied());
        if sums.iter().all(|&sum| diagrams.or(sum, one) == sum) {
            found.push((term.clone(), 1));
        }
    }
    found
}
