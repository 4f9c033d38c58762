//! Combinational loops: which nets must be kept so that the rest can be dissolved.
use std::collections::{BTreeMap, BTreeSet};

use super::LogicError;
use super::wires::{Wire, sources};
use gluewright_kernel::circuit::{Circuit, Expr, NetId, Op};

/// Up to this many nets of one tangle the fewest are searched for; beyond, the busiest goes first.
const EXACT: usize = 14;

/// Who reads whom among the nets that would be dissolved.
type Graph = BTreeMap<NetId, BTreeSet<NetId>>;

/// The operands of an expression, by the same rule by which it is evaluated.
pub(super) fn operands(circuit: &Circuit, e: Expr) -> Vec<Expr> {
    match circuit.op(e) {
        Op::Constant(_) | Op::Net(_) | Op::Q(_) => vec![],
        // both outputs are high while clear and preset are: only then the complement needs them
        Op::QInverted(x) => match circuit.elements().get(x.index()) {
            Some(x) if x.clear != Expr::LOW && x.preset != Expr::LOW => vec![x.clear, x.preset],
            _ => vec![],
        },
        Op::Not(a) => vec![a],
        Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => vec![a, b],
        Op::Choose(c, a, b) => vec![c, a, b],
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
    prune(&mut graph);
    while !graph.is_empty() {
        let tangle = one_tangle(&graph);
        let contact = |n: &NetId| circuit.nets().get(n.index()).is_some_and(|n| n.contact.is_some());
        let cut = if tangle.len() <= EXACT { fewest(&tangle, contact) } else { busiest(&tangle) };
        for net in cut {
            kept.insert(net);
            remove(&mut graph, net);
        }
        prune(&mut graph);
    }
    kept
}

/// The nets that a set of expressions reads.
fn read_nets(circuit: &Circuit, from: &[Expr]) -> BTreeSet<NetId> {
    let (mut seen, mut nets) = (BTreeSet::new(), BTreeSet::new());
    let mut open = from.to_vec();
    while let Some(e) = open.pop() {
        if seen.insert(e) {
            if let Op::Net(n) = circuit.op(e) {
                nets.insert(n);
            }
            open.extend(operands(circuit, e));
        }
    }
    nets
}

fn remove(graph: &mut Graph, net: NetId) {
    graph.remove(&net);
    for reads in graph.values_mut() {
        reads.remove(&net);
    }
}

/// Takes away what is on no loop: nets that read none of the others, and nets that none of the others reads.
fn prune(graph: &mut Graph) {
    loop {
        let read: BTreeSet<NetId> = graph.values().flatten().copied().collect();
        let loose: Vec<NetId> =
            graph.iter().filter(|(n, reads)| reads.is_empty() || !read.contains(n)).map(|(&n, _)| n).collect();
        if loose.is_empty() {
            return;
        }
        for net in loose {
            remove(graph, net);
        }
    }
}

/// Nets that read one another: all that the first net that lies on a loop reaches and that reach it.
fn one_tangle(graph: &Graph) -> Graph {
    let reach = |from: NetId, graph: &Graph| {
        let mut reached = BTreeSet::new();
        let mut open: Vec<NetId> = graph.get(&from).into_iter().flatten().copied().collect();
        while let Some(n) = open.pop() {
            if reached.insert(n) {
                open.extend(graph.get(&n).into_iter().flatten().copied());
            }
        }
        reached
    };
    let mut back = Graph::new();
    for (&n, reads) in graph {
        for &r in reads {
            back.entry(r).or_default().insert(n);
        }
    }
    let on_loop = graph.keys().copied().find_map(|n| {
        let members: BTreeSet<NetId> = reach(n, graph).intersection(&reach(n, &back)).copied().collect();
        members.contains(&n).then_some(members)
    });
    let members = on_loop.unwrap_or_default();
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
    prune(&mut rest);
    rest.is_empty()
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
