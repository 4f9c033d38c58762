//! What of a circuit anything depends on.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Expr, Kind, Label, NetId, Op};

/// The nets and elements on which something at a contact hangs.
pub fn alive(circuit: &Circuit) -> (Vec<bool>, Vec<bool>) {
    alive_behind(circuit, |_| true)
}

/// The nets and elements on which something at these contacts hangs.
pub fn alive_behind(circuit: &Circuit, shown: impl Fn(&Label) -> bool) -> (Vec<bool>, Vec<bool>) {
    let (mut nets, mut elements) = (vec![false; circuit.nets().len()], vec![false; circuit.elements().len()]);
    let mut wanted: Vec<Expr> = Vec::new();
    let mut seen: BTreeSet<Expr> = BTreeSet::new();
    let reach = |n: usize, nets: &mut Vec<bool>, wanted: &mut Vec<Expr>| {
        if !std::mem::replace(&mut nets[n], true) {
            wanted.extend(circuit.nets()[n].drivers.iter().flat_map(|d| [d.enable, d.level]));
        }
    };
    for c in circuit.contacts().iter().filter(|c| shown(&c.label)) {
        reach(c.net.index(), &mut nets, &mut wanted);
    }
    while let Some(e) = wanted.pop() {
        if !seen.insert(e) {
            continue;
        }
        match circuit.op(e) {
            Op::Constant(_) => {}
            Op::Net(n) => reach(n.index(), &mut nets, &mut wanted),
            Op::Q(x) | Op::QInverted(x) => {
                if !std::mem::replace(&mut elements[x.index()], true) {
                    let e = &circuit.elements()[x.index()];
                    let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
                    wanted.extend([clock, data, e.clear, e.preset, circuit.loads_unknown(x)]);
                }
            }
            Op::Not(a) => wanted.push(a),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => wanted.extend([a, b]),
            Op::Choose(a, b, c) => wanted.extend([a, b, c]),
        }
    }
    (nets, elements)
}

/// Whether any expression that something depends on reads a net.
pub(super) fn reads_net(circuit: &Circuit, net: usize) -> bool {
    let mut wanted: Vec<Expr> = Vec::new();
    for e in circuit.elements() {
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        wanted.extend([clock, data, e.clear, e.preset]);
    }
    for n in circuit.nets() {
        wanted.extend(n.drivers.iter().flat_map(|d| [d.enable, d.level]));
    }
    let mut seen = BTreeSet::new();
    while let Some(e) = wanted.pop() {
        if !seen.insert(e) {
            continue;
        }
        match circuit.op(e) {
            Op::Net(n) if n == id(circuit, net) => return true,
            Op::Not(a) => wanted.push(a),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => wanted.extend([a, b]),
            Op::Choose(a, b, c) => wanted.extend([a, b, c]),
            Op::Net(_) | Op::Constant(_) | Op::Q(_) | Op::QInverted(_) => {}
        }
    }
    false
}

fn id(circuit: &Circuit, net: usize) -> NetId {
    circuit.find_net(&circuit.nets()[net].name).expect("names of nets are unique")
}
