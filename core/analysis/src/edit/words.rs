//! Expressions and places in the words of the bench.
use super::Slot;
use gluewright_kernel::circuit::{Circuit, Expr, Op, Stage};

/// The signal behind a leaf of an expression.
pub(super) fn signal(circuit: &Circuit, leaf: Expr) -> Option<String> {
    match circuit.op(leaf) {
        // the value that an output reads back has the output's name
        Op::Net(n) => circuit.nets().get(n.index()).map(|_| format!("`{}`", circuit.called(n))),
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
    formula(circuit, e, true, Binding::Nothing, 4)
}

/// What stands around a formula.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Binding {
    Nothing,
    Or,
    And,
    /// Anything else.
    Tight,
}

/// `e` if `truth`, else its inverse; inversions are carried down to the signals.
fn formula(circuit: &Circuit, e: Expr, truth: bool, outer: Binding, depth: u32) -> String {
    if let Some((leaf, plain)) = literal(circuit, e) {
        return format!("{} is {}", signal(circuit, leaf).unwrap_or_default(), level(plain == truth));
    }
    let Some(depth) = depth.checked_sub(1) else { return "…".to_owned() };
    let within = |binds: Binding, text: String| {
        if outer == Binding::Nothing || outer == binds { text } else { format!("({text})") }
    };
    let both = |a: Expr, b: Expr, and: bool| {
        let (sign, binds) = if and { ("∧", Binding::And) } else { ("∨", Binding::Or) };
        let (a, b) = (formula(circuit, a, truth, binds, depth), formula(circuit, b, truth, binds, depth));
        within(binds, format!("{a} {sign} {b}"))
    };
    let plain = |x: Expr| formula(circuit, x, true, Binding::Tight, depth);
    let inner = |x: Expr| formula(circuit, x, truth, Binding::Tight, depth);
    match circuit.op(e) {
        Op::Constant(v) => if v == truth { "always" } else { "never" }.to_owned(),
        Op::Not(a) => formula(circuit, a, !truth, outer, depth + 1),
        Op::And(a, b) => both(a, b, truth),
        Op::Or(a, b) => both(a, b, !truth),
        Op::Xor(a, b) => within(Binding::Tight, format!("{} ⊕ {}", inner(a), plain(b))),
        Op::Choose(c, a, b) => within(Binding::Tight, format!("{} if {}, else {}", inner(a), plain(c), inner(b))),
        Op::Net(_) | Op::Q(_) | Op::QInverted(_) => String::new(),
    }
}

/// What happens by a slot, and whether what stands there is a condition.
pub(super) fn verb(circuit: &Circuit, slot: Slot) -> (&'static str, bool) {
    let is_latch =
        |e: gluewright_kernel::circuit::ElementId| circuit.elements().get(e.index()).is_some_and(|e| !e.is_register());
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
