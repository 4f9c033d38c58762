//! Which nets and latches feed themselves through gates and open latches.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Expr, Kind, Op};

/// A net or an element, by index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    Net(usize),
    Element(usize),
}

/// For each net, whether it feeds itself through gates and open latches.
pub fn in_loops(circuit: &Circuit) -> Vec<bool> {
    (0..circuit.nets().len()).map(|n| feeds_itself(circuit, Place::Net(n))).collect()
}

/// For each element, whether it is a latch that feeds itself through gates and open latches.
pub fn latches_in_loops(circuit: &Circuit) -> Vec<bool> {
    (0..circuit.elements().len()).map(|e| feeds_itself(circuit, Place::Element(e))).collect()
}

/// What a net or a latch follows at once.
fn follows(circuit: &Circuit, place: Place) -> BTreeSet<Place> {
    let mut wanted: Vec<Expr> = match place {
        Place::Net(n) => circuit.nets()[n].drivers.iter().flat_map(|d| [d.enable, d.level]).collect(),
        Place::Element(e) => {
            let e = &circuit.elements()[e];
            match e.kind {
                Kind::Register { .. } => Vec::new(),
                Kind::Latch { open, data } => vec![open, data, e.clear, e.preset],
            }
        }
    };
    let (mut all, mut seen) = (BTreeSet::new(), BTreeSet::new());
    while let Some(e) = wanted.pop() {
        if !seen.insert(e) {
            continue;
        }
        match circuit.op(e) {
            Op::Net(n) => drop(all.insert(Place::Net(n.index()))),
            Op::Q(x) | Op::QInverted(x) => drop(all.insert(Place::Element(x.index()))),
            Op::Not(a) => wanted.push(a),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => wanted.extend([a, b]),
            Op::Choose(a, b, c) => wanted.extend([a, b, c]),
            Op::Constant(_) => {}
        }
    }
    all
}

fn feeds_itself(circuit: &Circuit, place: Place) -> bool {
    let (mut reached, mut wanted) = (BTreeSet::new(), follows(circuit, place));
    while let Some(next) = wanted.pop_first() {
        if reached.insert(next) {
            wanted.extend(follows(circuit, next));
        }
    }
    reached.contains(&place)
}
