//! Numbers that circuits, and expressions of different circuits, share if they are built alike.
use std::hash::{DefaultHasher, Hash, Hasher};

use gluewright_kernel::circuit::{Circuit, Expr};

/// A number that circuits share if they are built alike, whatever else was built in them on the way.
pub(crate) fn fingerprint(circuit: &Circuit) -> u64 {
    let known = Fingerprints::new(circuit);
    hash(|h| {
        for net in circuit.nets() {
            for d in &net.drivers {
                (d.inputs().map(|e| known.of(e)), format!("{:?}", d.stage)).hash(h);
            }
            (u64::MAX, net.pull, net.open_read).hash(h);
        }
        for label in circuit.joined_contacts().iter().flatten() {
            label.as_str().hash(h);
        }
        for e in circuit.elements() {
            (e.is_register(), e.inputs().map(|e| known.of(e))).hash(h);
            e.start.level().hash(h);
        }
        for c in circuit.contacts() {
            (c.label.as_str(), c.net.index()).hash(h);
        }
    })
}

/// Numbers of a circuit's expressions.
pub(super) struct Fingerprints(Vec<u64>);

impl Fingerprints {
    pub(super) fn new(circuit: &Circuit) -> Self {
        let mut known: Vec<u64> = Vec::with_capacity(circuit.expression_count());
        for e in circuit.expressions() {
            let op = circuit.op(e);
            let mut operands: Vec<u64> =
                op.operands().map(|o| known.get(o.index()).copied().unwrap_or_default()).collect();
            if op.commutes() {
                operands.sort_unstable();
            }
            // the operation by itself, and what its operands are made of
            known.push(hash(|h| (op.map(|_| Expr::LOW), &operands).hash(h)));
        }
        Fingerprints(known)
    }

    pub(super) fn of(&self, e: Expr) -> u64 {
        self.0.get(e.index()).copied().unwrap_or_default()
    }
}

fn hash(of: impl FnOnce(&mut DefaultHasher)) -> u64 {
    let mut hasher = DefaultHasher::new();
    of(&mut hasher);
    hasher.finish()
}
