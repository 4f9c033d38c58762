//! What a level acts on through gates: all that could answer to a pulse on it.
use crate::circuit::{Circuit, Expr, Kind, NetId, Op};

/// The operands of an operation.
pub(super) fn operands(op: Op) -> Vec<Expr> {
    match op {
        Op::Not(a) => vec![a],
        Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => vec![a, b],
        Op::Choose(a, b, c) => vec![a, b, c],
        Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => vec![],
    }
}

/// What something acts on through gates.
pub(super) struct Reached {
    expressions: Vec<bool>,
    nets: Vec<bool>,
}

impl Reached {
    /// What these nets and the levels of these expressions act on.
    pub(super) fn from(circuit: &Circuit, nets: &[NetId], expressions: &[Expr]) -> Self {
        let count = circuit.expression_count();
        let mut reached = Reached { expressions: vec![false; count], nets: vec![false; circuit.nets().len()] };
        for n in nets {
            reached.nets[n.index()] = true;
        }
        for e in expressions {
            reached.expressions[e.index()] = true;
        }
        while reached.grows(circuit) {}
        reached
    }

    fn grows(&mut self, circuit: &Circuit) -> bool {
        let mut moved = false;
        for i in 0..self.expressions.len() {
            if self.expressions[i] {
                continue;
            }
            let op = circuit.op(Expr(i as u32));
            let reached = match op {
                Op::Net(n) => self.nets.get(n.index()).copied().unwrap_or(false),
                _ => operands(op).iter().any(|o| self.expressions[o.index()]),
            };
            self.expressions[i] = reached;
            moved |= reached;
        }
        for (n, net) in circuit.nets().iter().enumerate() {
            if !self.nets[n] && net.drivers.iter().any(|d| self.at(d.enable) || self.at(d.level)) {
                self.nets[n] = true;
                moved = true;
            }
        }
        moved
    }

    /// Whether the level of an expression is acted on.
    fn at(&self, e: Expr) -> bool {
        self.expressions.get(e.index()).copied().unwrap_or(false)
    }

    /// What is reached that could answer to a pulse, in words.
    pub(super) fn answering(&self, circuit: &Circuit) -> Vec<String> {
        let mut all = Vec::new();
        for e in circuit.elements() {
            let (edge, what) = match e.kind {
                Kind::Register { clock, .. } => (clock, "the clock"),
                Kind::Latch { open, .. } => (open, "the gate"),
            };
            for (condition, what) in [(edge, what), (e.clear, "the clear"), (e.preset, "the preset")] {
                if self.at(condition) {
                    all.push(format!("{what} of `{}`", e.name));
                }
            }
        }
        for (contact, net) in circuit.contacts().iter().filter_map(|c| Some((c, circuit.nets().get(c.net.index())?))) {
            if net.drivers.iter().any(|d| self.at(d.enable)) {
                all.push(format!("the drive condition of contact {} {}", contact.label, contact.name));
            } else if net.drivers.iter().any(|d| self.at(d.level)) {
                all.push(format!("contact {} {}", contact.label, contact.name));
            }
        }
        all
    }
}
