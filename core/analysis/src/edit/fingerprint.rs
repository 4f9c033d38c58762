//! Numbers that circuits, and expressions of different circuits, share if they are built alike.
use std::hash::{DefaultHasher, Hash, Hasher};

use gluewright_kernel::circuit::{Circuit, Expr, Kind, Op};

/// A number that circuits share if they are built alike, whatever else was built in them on the way.
pub(crate) fn fingerprint(circuit: &Circuit) -> u64 {
    let known = Fingerprints::new(circuit);
    hash(|h| {
        for net in circuit.nets() {
            for d in &net.drivers {
                (known.of(d.enable), known.of(d.level), format!("{:?}", d.stage)).hash(h);
            }
            (u64::MAX, format!("{:?}", net.pull)).hash(h);
        }
        for e in circuit.elements() {
            let (kind, control, data) = match e.kind {
                Kind::Register { clock, data } => (0, clock, data),
                Kind::Latch { open, data } => (1, open, data),
            };
            (kind, known.of(control), known.of(data), known.of(e.clear), known.of(e.preset)).hash(h);
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
        let at = |known: &[u64], e: Expr| known.get(e.index()).copied().unwrap_or_default();
        for i in 0..circuit.expression_count() {
            let op = circuit.op(Expr::at(i));
            let (name, operands): (u8, Vec<u64>) = match op {
                Op::Constant(v) => (0, vec![u64::from(v)]),
                Op::Net(n) => (1, vec![n.index() as u64]),
                Op::Q(e) => (2, vec![e.index() as u64]),
                Op::QInverted(e) => (3, vec![e.index() as u64]),
                Op::Not(a) => (4, vec![at(&known, a)]),
                Op::And(a, b) => (5, sorted(at(&known, a), at(&known, b))),
                Op::Or(a, b) => (6, sorted(at(&known, a), at(&known, b))),
                Op::Xor(a, b) => (7, sorted(at(&known, a), at(&known, b))),
                Op::Choose(a, b, c) => (8, vec![at(&known, a), at(&known, b), at(&known, c)]),
            };
            known.push(hash(|h| (name, &operands).hash(h)));
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

fn sorted(a: u64, b: u64) -> Vec<u64> {
    vec![a.min(b), a.max(b)]
}
