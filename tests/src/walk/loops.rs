//! Which nets feed themselves through gates alone.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Expr, Op};

/// For each net, whether it feeds itself through gates alone.
pub fn in_loops(circuit: &Circuit) -> Vec<bool> {
    let reads = |net: usize| {
        let mut nets: BTreeSet<usize> = BTreeSet::new();
        let mut wanted: Vec<Expr> = circuit.nets()[net].drivers.iter().flat_map(|d| [d.enable, d.level]).collect();
        let mut seen = BTreeSet::new();
        while let Some(e) = wanted.pop() {
            if !seen.insert(e) {
                continue;
            }
            match circuit.op(e) {
                Op::Net(n) => {
                    nets.insert(n.index());
                }
                Op::Not(a) => wanted.push(a),
                Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => wanted.extend([a, b]),
                Op::Choose(a, b, c) => wanted.extend([a, b, c]),
                Op::Constant(_) | Op::Q(_) | Op::QInverted(_) => {}
            }
        }
        nets
    };
    let direct: Vec<BTreeSet<usize>> = (0..circuit.nets().len()).map(reads).collect();
    let feeds_itself = |net: usize| {
        let (mut reached, mut wanted) = (BTreeSet::new(), direct[net].clone());
        while let Some(n) = wanted.pop_first() {
            if reached.insert(n) {
                wanted.extend(&direct[n]);
            }
        }
        reached.contains(&net)
    };
    (0..circuit.nets().len()).map(feeds_itself).collect()
}
