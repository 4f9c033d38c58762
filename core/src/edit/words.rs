//! Expressions and places in the words of the bench.
use super::Slot;
use crate::circuit::{Circuit, Expr, Kind, Op, Stage};

/// The signal behind a leaf of an expression.
pub(super) fn signal(circuit: &Circuit, leaf: Expr) -> Option<String> {
    match circuit.op(leaf) {
        Op::Net(n) => circuit.nets().get(n.index()).map(|n| format!("`{}`", n.name)),
        Op::Q(e) => circuit.elements().get(e.index()).map(|e| format!("`{}`", e.name)),
        Op::QInverted(e) => circuit.elements().get(e.index()).map(|e| format!("the complement of `{}`", e.name)),
        _ => None,
    }
}

/// A leaf and whether it is read as it is, if the expression is nothing more.
pub(super) fn literal(circuit: &Circuit, e: Expr) -> Option<(Expr, bool)> {
    let (leaf, plain) = match circuit.op(e) {
        Op::Not(a) => (a, false),
        _ => (e, true),
    };
    matches!(circuit.op(leaf), Op::Net(_) | Op::Q(_) | Op::QInverted(_)).then_some((leaf, plain))
}

pub(super) fn level(high: bool) -> &'static str {
    if high { "high" } else { "low" }
}

/// An expression as a condition, cut short where it gets long.
pub(super) fn condition(circuit: &Circuit, e: Expr) -> String {
    formula(circuit, e, 4)
}

fn formula(circuit: &Circuit, e: Expr, depth: u32) -> String {
    if let Some((leaf, plain)) = literal(circuit, e) {
        return format!("{} is {}", signal(circuit, leaf).unwrap_or_default(), level(plain));
    }
    let Some(depth) = depth.checked_sub(1) else { return "…".to_owned() };
    let of = |x: Expr| formula(circuit, x, depth);
    match circuit.op(e) {
        Op::Constant(v) => if v { "always" } else { "never" }.to_owned(),
        Op::Not(a) => format!("¬({})", of(a)),
        Op::And(a, b) => format!("({} ∧ {})", of(a), of(b)),
        Op::Or(a, b) => format!("({} ∨ {})", of(a), of(b)),
        Op::Xor(a, b) => format!("({} ⊕ {})", of(a), of(b)),
        Op::Choose(c, a, b) => format!("({} if {}, else {})", of(a), of(c), of(b)),
        Op::Net(_) | Op::Q(_) | Op::QInverted(_) => String::new(),
    }
}

/// What happens by a slot, and whether what stands there is a condition.
pub(super) fn verb(circuit: &Circuit, slot: Slot) -> (&'static str, bool) {
    let is_latch = |e: crate::circuit::ElementId| {
        matches!(circuit.elements().get(e.index()).map(|e| e.kind), Some(Kind::Latch { .. }))
    };
    match slot {
        Slot::Enable(net, k) => {
            let stage = circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k)).map(|d| d.stage);
            (if stage == Some(Stage::OpenCollector) { "pulled low" } else { "driven" }, true)
        }
        Slot::Level(..) => ("shown", false),
        Slot::Clock(e) if is_latch(e) => ("open", true),
        Slot::Clock(_) => ("clocked", false),
        Slot::Data(e) if is_latch(e) => ("follows", false),
        Slot::Data(_) => ("loads", false),
        Slot::Clear(_) => ("cleared", true),
        Slot::Preset(_) => ("preset", true),
    }
}
