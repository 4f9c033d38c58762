//! The fan-out of a level through gates: the contacts that would show a pulse on it.
use crate::circuit::{Circuit, Cone, Expr, NetId, Vertex};

/// The fan-out of something through gates.
pub(super) struct Reached(Cone);

impl Reached {
    /// What these nets and the levels of these expressions act on.
    pub(super) fn from(circuit: &Circuit, nets: &[NetId], expressions: &[Expr]) -> Self {
        let roots = nets.iter().copied().map(Vertex::from).chain(expressions.iter().copied().map(Vertex::from));
        Reached(circuit.fan_out(roots, |v| !v.is_element()))
    }

    /// The contacts that are reached, in words.
    pub(super) fn answering(&self, circuit: &Circuit) -> Vec<String> {
        let mut all = Vec::new();
        for (contact, net) in circuit.contacts().iter().filter_map(|c| Some((c, circuit.nets().get(c.net.index())?))) {
            if net.drivers.iter().any(|d| self.0.contains(d.enable)) {
                all.push(format!("the drive condition of contact {} {}", contact.label, contact.name));
            } else if net.drivers.iter().any(|d| self.0.contains(d.level)) {
                all.push(format!("contact {} {}", contact.label, contact.name));
            }
        }
        all
    }
}
