//! What an untraced part of the original leaves to prove: the contacts that do not hang on it.
use crate::circuit::{Circuit, Expr, Kind, Op};

use super::pair::{ORIGINAL, Pair};

/// Something of the original that nobody has traced to its end.
#[derive(Clone, Debug)]
pub(super) struct Gap {
    /// The net that it touches.
    pub(super) net: Option<String>,
    pub(super) why: String,
}

/// A contact that is not compared.
#[derive(Clone, Debug)]
pub(super) struct LeftOut {
    pub(super) contact: usize,
    /// The contact and why, for messages.
    pub(super) words: String,
}

/// The contacts whose logic in the original touches a gap, through gates, registers and latches.
pub(super) fn left_out(original: &Circuit, pair: &Pair, gaps: &[Gap]) -> Vec<LeftOut> {
    let mut all: Vec<LeftOut> = Vec::new();
    for gap in gaps {
        let Some(name) = &gap.net else { continue };
        let Some(net) = original.nets().iter().position(|n| &n.name == name) else { continue };
        let touched = touched(original, net);
        for (contact, joined) in pair.contacts.iter().enumerate() {
            let of = joined.ports[ORIGINAL].and_then(|p| original.contacts().get(p));
            let hangs = of.is_some_and(|c| touched.get(c.net.index()) == Some(&true));
            if hangs && !all.iter().any(|l| l.contact == contact) {
                all.push(LeftOut { contact, words: format!("{} {}: {}", joined.label, joined.name, gap.why) });
            }
        }
    }
    all.sort_by_key(|l| l.contact);
    all
}

/// The nets that hang on one net, itself included.
fn touched(circuit: &Circuit, from: usize) -> Vec<bool> {
    let mut expressions = vec![false; circuit.expression_count()];
    let mut nets = vec![false; circuit.nets().len()];
    let mut elements = vec![false; circuit.elements().len()];
    nets[from] = true;
    loop {
        let mut moved = false;
        for i in 0..expressions.len() {
            if expressions[i] {
                continue;
            }
            let at = |e: Expr| expressions.get(e.index()).copied().unwrap_or(false);
            expressions[i] = match circuit.op(Expr(i as u32)) {
                Op::Constant(_) => false,
                Op::Net(n) => nets.get(n.index()).copied().unwrap_or(false),
                Op::Q(e) | Op::QInverted(e) => elements.get(e.index()).copied().unwrap_or(false),
                Op::Not(a) => at(a),
                Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => at(a) || at(b),
                Op::Choose(a, b, c) => at(a) || at(b) || at(c),
            };
            moved |= expressions[i];
        }
        let at = |e: Expr| expressions.get(e.index()).copied().unwrap_or(false);
        for (n, net) in circuit.nets().iter().enumerate() {
            if !nets[n] && net.drivers.iter().any(|d| at(d.enable) || at(d.level)) {
                (nets[n], moved) = (true, true);
            }
        }
        for (i, e) in circuit.elements().iter().enumerate() {
            let (edge, data) = match e.kind {
                Kind::Register { clock, data } => (clock, data),
                Kind::Latch { open, data } => (open, data),
            };
            let unknown = circuit.loads_unknown(crate::circuit::ElementId(i as u32));
            if !elements[i] && [edge, data, e.clear, e.preset, unknown].into_iter().any(at) {
                (elements[i], moved) = (true, true);
            }
        }
        if !moved {
            return nets;
        }
    }
}
