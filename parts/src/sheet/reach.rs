//! Which inputs a settled output can follow at once or on a clock: the paths that need a delay.
use std::collections::BTreeSet;

use gluewright::circuit::{Circuit, Direction, Expr, Label, Net, NetId, Vertex};

/// The inputs from which a change reaches this output without waiting for a clock, and the clocks that make it change.
pub(super) fn inputs_of(circuit: &Circuit, output: &Label) -> BTreeSet<Label> {
    let input = |n: NetId| {
        let contact = circuit.nets().get(n.index())?.contact?;
        circuit.contacts().get(contact.index()).filter(|c| c.direction != Direction::Output)
    };
    let stops = |v: Vertex| v.is_element() || matches!(v, Vertex::Net(n) if input(n).is_some());
    let net = circuit.contacts().iter().find(|c| &c.label == output).and_then(|c| circuit.nets().get(c.net.index()));
    let mut roots: Vec<Expr> = net.into_iter().flat_map(Net::inputs).collect();
    let (mut found, mut elements) = (BTreeSet::new(), BTreeSet::new());
    while !roots.is_empty() {
        let cone = circuit.cone(std::mem::take(&mut roots), |v| !stops(v));
        found.extend(cone.nets().filter_map(input).map(|c| c.label.clone()));
        for element in cone.elements().filter(|&e| elements.insert(e)) {
            let Some(e) = circuit.elements().get(element.index()) else { continue };
            roots.extend([e.gate(), e.clear, e.preset]);
            // a register's data wait for its clock; a latch's don't
            roots.extend((!e.is_register()).then(|| e.data()));
        }
    }
    found.remove(output);
    found
}
