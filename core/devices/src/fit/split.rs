//! Narrower functions: nodes that the user wrote and that are kept, and wide sums cut in two.
use std::collections::BTreeSet;

use super::demand::{Demand, Demands};
use super::diagnose::Blocked;
use super::place::Place;
use super::{Cost, Placed, Wishes, attempt, collapsed};
use crate::device::Function;
use crate::logic::{Diagram, Logic};
use gluewright_kernel::circuit::{Circuit, NetId};

/// How many sets of nodes are tried.
const TRIES: usize = 200;

/// How many cuts are tried.
const CUTS: usize = 60;

/// The cheapest way that was found to make everything fit.
pub(super) fn narrower(
    circuit: &Circuit,
    place: Place<'_>,
    wishes: &Wishes,
    keep: &BTreeSet<NetId>,
    demands: &Demands,
) -> Option<Placed> {
    let mut best: Option<(Cost, Placed)> = None;
    let mut consider = |placed: Placed| {
        let cost = placed.cost();
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, placed));
        }
    };
    if let Some(placed) = cut(demands, place, wishes, &mut { CUTS }) {
        consider(placed);
    }
    let nodes: Vec<NetId> = nodes(circuit, keep);
    let mut tries = 0;
    for set in (1..=3).flat_map(|size| sets(&nodes, size)) {
        tries += 1;
        if tries > TRIES || wishes.limit.over().is_some() {
            break;
        }
        let all = keep.iter().chain(&set).copied().collect();
        let Ok(logic) = collapsed(circuit, &all, wishes) else { continue };
        if let Ok(placed) = attempt(logic, place, wishes) {
            consider(placed);
        }
    }
    best.map(|(_, placed)| placed)
}

/// Nets inside the circuit that could be kept.
fn nodes(circuit: &Circuit, keep: &BTreeSet<NetId>) -> Vec<NetId> {
    let inside = |(id, n): (NetId, &gluewright_kernel::circuit::Net)| {
        let computed = n.drivers.iter().any(|d| d.level.as_constant().is_none());
        (n.contact.is_none() && computed && !keep.contains(&id)).then_some(id)
    };
    circuit.numbered_nets().filter_map(inside).collect()
}

/// All sets of that size, in order.
fn sets(of: &[NetId], size: usize) -> Vec<Vec<NetId>> {
    match (of, size) {
        (_, 0) => vec![Vec::new()],
        ([], _) => Vec::new(),
        ([first, rest @ ..], _) => {
            let mut with = sets(rest, size - 1);
            with.iter_mut().for_each(|s| s.insert(0, *first));
            with.extend(sets(rest, size));
            with
        }
    }
}

/// Cuts the widest sum in two, again and again, while macrocells are left.
fn cut(demands: &Demands, place: Place<'_>, wishes: &Wishes, tries: &mut usize) -> Option<Placed> {
    if !enough_terms(demands, place) {
        return None;
    }
    let (index, widest) = demands.list.iter().enumerate().max_by_key(|(i, d)| (d.width(), std::cmp::Reverse(*i)))?;
    // the even cut comes first: another one may succeed where it fails, but takes no fewer macrocells
    for size in sizes(place, widest) {
        if wishes.limit.over().is_some() {
            return None;
        }
        *tries = tries.checked_sub(1)?;
        let mut logic = demands.logic.clone();
        if !halve(&mut logic, demands.list.get(index)?, size) {
            continue;
        }
        let placed = match attempt(logic, place, wishes) {
            Ok(placed) => Some(placed),
            Err(Blocked::TooWide(wide)) => cut(&wide.0, place, wishes, tries),
            Err(Blocked::Otherwise(_)) => None,
        };
        if placed.is_some() {
            return placed;
        }
    }
    None
}

/// Whether all macrocells together could hold the terms: each cut costs one more.
fn enough_terms(demands: &Demands, place: Place<'_>) -> bool {
    let needed: usize = demands.list.iter().map(Demand::width).sum();
    let mut widths: Vec<usize> = place
        .mode
        .macrocells
        .iter()
        .map(|m| m.configurations.iter().map(|c| c.rows.len()).max().unwrap_or(0))
        .collect();
    widths.sort_unstable_by_key(|&w| std::cmp::Reverse(w));
    (demands.list.len() + 1..=widths.len()).any(|cells| {
        let most: usize = widths.iter().take(cells).sum();
        needed + cells - demands.list.len() <= most
    })
}

/// How many terms may move into the added node: such that either part fills a macrocell, the most even cut first.
fn sizes(place: Place<'_>, demand: &Demand) -> Vec<usize> {
    let width = demand.width();
    let widths = place.mode.macrocells.iter().flat_map(|m| &m.configurations).map(|c| c.rows.len());
    let sizes: BTreeSet<usize> = widths.flat_map(|w| [Some(w), (width + 1).checked_sub(w)]).flatten().collect();
    let mut sizes: Vec<usize> = sizes.into_iter().filter(|&s| s >= 2 && s < width).collect();
    sizes.sort_by_key(|&s| s.max(width + 1 - s));
    sizes
}

/// Moves so many terms of a demand into a node of its own. Terms that read the demand's own value stay.
fn halve(logic: &mut Logic, demand: &Demand, size: usize) -> bool {
    let own = |v: usize| demand.holds.iter().any(|(h, _)| *h == v);
    let (stay, may): (Vec<_>, Vec<_>) =
        demand.choice.terms.iter().partition(|t| t.product.iter().any(|(v, _)| own(*v)));
    if may.len() < size {
        return false;
    }
    let (go, rest) = may.split_at(size);
    let sum = |terms: &[&super::SumTerm], logic: &mut Logic| {
        terms.iter().fold(Diagram::LOW, |sum, t| {
            let one = logic.diagrams.product(t.product.iter().copied());
            logic.diagrams.or(sum, one)
        })
    };
    let (moved, rest, stay) = (sum(go, logic), sum(rest, logic), sum(&stay, logic));
    let part = logic.add_node(moved, &format!("part_of_{}", demand.name), &demand.origin);
    let read = logic.diagrams.variable(part);
    let left = logic.diagrams.or(rest, stay);
    let total = logic.diagrams.or(left, read);
    write_back(logic, demand, total)
}

/// Puts the sum of a demand back where it came from.
fn write_back(logic: &mut Logic, demand: &Demand, sum: Diagram) -> bool {
    let inverted = demand.choice.inverted;
    for &(variable, shown) in &demand.holds {
        let opposite = inverted != (shown != demand.choice.flipped);
        let value = if opposite { logic.diagrams.not(sum) } else { sum };
        if let Some(r) = logic.registers.iter_mut().find(|r| r.variable == variable) {
            r.data = value;
            return demand.function == Function::Registered;
        }
        if let Some(l) = logic.latches.iter_mut().find(|l| l.variable == variable) {
            l.follow = value;
            return true;
        }
        if let Some(n) = logic.nodes.iter_mut().find(|n| n.variable == variable) {
            n.level = value;
            return true;
        }
    }
    let level = if inverted { logic.diagrams.not(sum) } else { sum };
    match demand.output.and_then(|o| logic.outputs.get_mut(o)) {
        Some(output) => {
            output.level = level;
            output.shows = None;
            true
        }
        None => false,
    }
}
