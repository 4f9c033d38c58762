//! Placing a circuit into a device: pins, polarity, product terms, macrocells.
//!
//! A circuit is collapsed to one function for each macrocell ([`crate::logic`]), each function is minimised in both
//! polarities, and macrocells and inputs are matched with pins. The result has the fewest macrocells, then the fewest
//! product terms; only where a function is too wide for its macrocell are nodes added, and then the cheapest of the
//! ways that were tried is taken.
mod assign;
mod blocks;
mod demand;
mod diagnose;
mod error;
mod fitted;
mod globals;
mod item;
mod json;
mod note;
mod notes;
mod place;
mod preset;
mod split;
mod straight;
mod terms;
mod wishes;

use std::collections::BTreeSet;

pub use demand::Drive;
pub use error::{NoFit, Sharing};
pub use fitted::{Control, Fitted, FittedCell, Line, PinWire, SupplyWire};
pub use note::Note;
pub use terms::SumTerm;
pub use wishes::{Moves, Wishes};

use assign::{Assignment, assign};
use demand::{Demands, demands};
use diagnose::{Blocked, diagnose};
use place::Place;

use crate::device::Device;
use crate::logic::{Logic, LogicError, collapse};
use gluewright_kernel::circuit::{Circuit, NetId};

/// Fits a circuit into a device, in the mode that takes the fewest macrocells and product terms.
///
/// # Errors
/// The first reason why it doesn't fit, with the nearest change that would help. Of a device with several modes, the
/// reason of the mode that comes nearest.
pub fn fit(circuit: &Circuit, device: &Device, wishes: &Wishes) -> Result<Fitted, NoFit> {
    let found = placed(circuit, device, wishes);
    // what was found in too little time might be another with more: then it is none, on every machine
    let Some(over) = wishes.limit.over() else { return found };
    let reached = match &found {
        Ok(fitted) => {
            format!("one way was found, with {} product terms, and perhaps not the best", fitted.term_count())
        }
        Err(no) => format!("so far no way was found: {no}"),
    };
    Err(NoFit::Over { over, circuit: circuit.name.clone(), device: device.name, reached })
}

fn placed(circuit: &Circuit, device: &Device, wishes: &Wishes) -> Result<Fitted, NoFit> {
    circuit.check().map_err(LogicError::from)?;
    let keep = kept(circuit, wishes)?;
    diagnose::known(circuit, wishes)?;
    if wishes.straight {
        straight::check(circuit, device)?;
    }
    if let Some(blocks) = &device.blocks {
        return blocks::fit(circuit, device, blocks, wishes, &keep);
    }
    let mut best: Option<(Cost, Placed, Place<'_>)> = None;
    let mut reason: Option<NoFit> = None;
    for (index, mode) in device.modes.iter().enumerate() {
        if wishes.limit.over().is_some() {
            break;
        }
        let place = Place { device, index, mode };
        match in_mode(circuit, place, wishes, &keep) {
            Ok(placed) => {
                let cost = placed.cost();
                if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                    best = Some((cost, placed, place));
                }
            }
            Err(no) => {
                if reason.as_ref().is_none_or(|r| diagnose::nearness(&no) > diagnose::nearness(r)) {
                    reason = Some(no);
                }
            }
        }
    }
    match (best, reason) {
        (Some((_, Placed { demands, assignment, signature }, place)), _) => {
            let mut fitted = fitted::fitted(circuit, demands, place, &assignment);
            fitted.plan.signature = signature;
            fitted.notes = notes::notes(&fitted, place.device);
            Ok(fitted)
        }
        (None, Some(reason)) => Err(reason),
        (None, None) => Err(NoFit::NoModes { device: device.name }),
    }
}

/// Macrocells, then product terms.
type Cost = (usize, usize);

/// A circuit that has a place.
#[derive(Clone, Debug)]
struct Placed {
    demands: Demands,
    assignment: Assignment,
    signature: Vec<u8>,
}

impl Placed {
    fn cost(&self) -> Cost {
        (self.demands.list.len(), self.demands.list.iter().map(|d| d.width()).sum())
    }
}

fn in_mode(circuit: &Circuit, place: Place<'_>, wishes: &Wishes, keep: &BTreeSet<NetId>) -> Result<Placed, NoFit> {
    match attempt(collapsed(circuit, keep, wishes)?, place, wishes) {
        Ok(placed) => Ok(placed),
        Err(Blocked::TooWide(wide)) => {
            let (demands, reason) = *wide;
            if let Some(placed) = preset::narrower(&demands, place, wishes) {
                return Ok(placed);
            }
            split::narrower(circuit, place, wishes, keep, &demands).ok_or(reason)
        }
        Err(Blocked::Otherwise(reason)) => Err(reason),
    }
}

/// One try with the nodes as they are.
fn attempt(logic: Logic, place: Place<'_>, wishes: &Wishes) -> Result<Placed, Blocked> {
    let demands = demands(logic, place).map_err(Blocked::Otherwise)?;
    match assign(&demands, place, wishes) {
        Some(assignment) => Ok(Placed { demands, assignment, signature: wishes.signature.clone() }),
        None => Err(diagnose(demands, place, wishes)),
    }
}

/// The nets that a user wants to keep.
fn kept(circuit: &Circuit, wishes: &Wishes) -> Result<BTreeSet<NetId>, NoFit> {
    wishes.kept_nets(circuit).map_err(|wish| NoFit::UnknownNode { wish })
}

/// The circuit as functions, with what is known of contacts that change together.
fn collapsed(circuit: &Circuit, keep: &BTreeSet<NetId>, wishes: &Wishes) -> Result<Logic, LogicError> {
    let mut logic = collapse(circuit, keep)?;
    logic.diagrams.limit_to(wishes.limit);
    for moves in &wishes.moves {
        let of = |label| logic.signals.iter().position(|s| s.label.as_ref() == Some(label));
        let mut sources: Vec<usize> = moves.contacts.iter().filter_map(of).collect();
        if moves.registers {
            sources.extend(logic.registers.iter().map(|r| r.variable));
        }
        logic.together.push(sources);
    }
    Ok(logic)
}
