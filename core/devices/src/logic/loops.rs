//! Combinational feedback loops: a feedback vertex set, the nets that must be kept so that the rest can be dissolved. The
//! smallest of each strongly connected component (Tarjan 1972) is searched for where that is small.
use std::collections::{BTreeMap, BTreeSet};

use super::LogicError;
use super::wires::{Wire, sources};
use gluewright_kernel::circuit::{Circuit, Expr, NetId, Op};
use gluewright_kernel::graph::{cycles, post_order};

/// Up to this many nets of one tangle the fewest are searched for; beyond, the busiest goes first.
const EXACT: usize = 14;

/// Who reads whom among the nets that would be dissolved.
type Graph = BTreeMap<NetId, BTreeSet<NetId>>;

/// The operands of an expression, by the same rule by which it is evaluated.
pub(super) fn operands(circuit: &Circuit, e: Expr) -> Vec<Expr> {
    match circuit.op(e) {
        // both outputs are high while clear and preset are: only then the complement needs them
        Op::QInverted(x) => match circuit.elements().get(x.index()) {
            Some(x) if x.clear != Expr::LOW && x.preset != Expr::LOW => vec![x.clear, x.preset],
            _ => vec![],
        },
        op => op.operands().collect(),
    }
}

/// The nets to keep: those in `asked`, and the fewest more that leave no loop among the rest; among equals those that
/// have a contact, since they have a macrocell anyway.
pub(super) fn kept(circuit: &Circuit, wires: &[Result<Wire, LogicError>], asked: &BTreeSet<NetId>) -> BTreeSet<NetId> {
    let mut kept = asked.clone();
    let mut graph = Graph::new();
    for ((id, _), wire) in circuit.numbered_nets().zip(wires) {
        if let Ok(wire) = wire
            && !asked.contains(&id)
            && !sources(wire).is_empty()
        {
            graph.insert(id, read_nets(circuit, sources(wire)));
        }
    }
    let known: BTreeSet<NetId> = graph.keys().copied().collect();
    for reads in graph.values_mut() {
        reads.retain(|n| known.contains(n));
    }
    loop {
        let tangle = one_tangle(&graph);
        if tangle.is_empty() {
            return kept;
        }
        let contact = |n: &NetId| circuit.nets().get(n.index()).is_some_and(|n| n.contact.is_some());
        let cut = if tangle.len() <= EXACT { fewest(&tangle, contact) } else { busiest(&tangle) };
        for net in cut {
            kept.insert(net);
            remove(&mut graph, net);
        }
    }
}

/// The nets that a set of expressions reads.
fn read_nets(circuit: &Circuit, from: &[Expr]) -> BTreeSet<NetId> {
    let read = post_order(from.iter().copied(), |e| operands(circuit, e));
    read.into_iter().filter_map(|e| circuit.op(e).as_net()).collect()
}

fn remove(graph: &mut Graph, net: NetId) {
    graph.remove(&net);
    for reads in graph.values_mut() {
        reads.remove(&net);
    }
}

/// The strongly connected component of the first net that lies on a loop.
fn one_tangle(graph: &Graph) -> Graph {
    let members = cycles(graph).into_iter().min_by_key(|c| c.first().copied()).unwrap_or_default();
    let inside = |n: &NetId| members.contains(n);
    graph
        .iter()
        .filter(|(n, _)| inside(n))
        .map(|(&n, reads)| (n, reads.iter().copied().filter(inside).collect()))
        .collect()
}

fn is_cut(tangle: &Graph, without: &[NetId]) -> bool {
    let mut rest = tangle.clone();
    for &n in without {
        remove(&mut rest, n);
    }
    cycles(&rest).is_empty()
}

/// The fewest nets without which no loop is left.
fn fewest(tangle: &Graph, contact: impl Fn(&NetId) -> bool) -> Vec<NetId> {
    let mut nets: Vec<NetId> = tangle.keys().copied().collect();
    nets.sort_by_key(|n| !contact(n));
    let mut sets: Vec<u32> = (1..1u32 << nets.len()).collect();
    // few first; among equals many contacts; then the order in which they were written
    let outside = |set: u32| nets.iter().enumerate().filter(|(i, n)| set >> i & 1 == 1 && contact(n)).count();
    sets.sort_by_key(|&s| (s.count_ones(), std::cmp::Reverse(outside(s)), s));
    let members = |set: u32| -> Vec<NetId> {
        nets.iter().enumerate().filter(|(i, _)| set >> i & 1 == 1).map(|(_, &n)| n).collect()
    };
    sets.into_iter().map(members).find(|s| is_cut(tangle, s)).unwrap_or(nets)
}

/// The net with most neighbours.
fn busiest(tangle: &Graph) -> Vec<NetId> {
    let readers = |n: &NetId| tangle.values().filter(|r| r.contains(n)).count();
    tangle.iter().max_by_key(|(n, reads)| reads.len() * readers(n)).map(|(&n, _)| n).into_iter().collect()
}
