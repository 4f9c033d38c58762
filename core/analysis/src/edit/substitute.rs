//! Expressions made anew with something inside them changed.
use gluewright_kernel::circuit::{Circuit, Expr, Op, Vertex};

/// What an expression becomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Swap {
    /// Its inverse.
    Not,
    /// Another expression of the same circuit.
    Other(Expr),
    /// The same operands under the other operator: *or* for *and*, *and* for *or*.
    OtherOperator,
    /// The same with one operand inverted, counted from 0.
    Operand(usize),
}

/// The expressions that `root` is made of, itself included, operands first.
pub(super) fn cone(circuit: &Circuit, root: Expr) -> Vec<Expr> {
    circuit.cone([root], Vertex::is_expression).expressions().collect()
}

/// `root` with these expressions inside it changed.
pub(super) fn substitute(circuit: &mut Circuit, root: Expr, swaps: &[(Expr, Swap)]) -> Expr {
    let mut made = vec![Expr::LOW; root.index() + 1];
    for e in cone(circuit, root) {
        let swap = swaps.iter().find(|(of, _)| *of == e).map(|(_, swap)| *swap);
        let inverted = match swap {
            Some(Swap::Operand(k)) => circuit.op(e).operands().nth(k).map(|o| (o, circuit.not(made_of(&made, o)))),
            _ => None,
        };
        let at = |x: Expr| match inverted {
            Some((of, new)) if of == x => new,
            _ => made_of(&made, x),
        };
        let op = match (circuit.op(e), swap) {
            (Op::And(a, b), Some(Swap::OtherOperator)) => Op::Or(a, b),
            (Op::Or(a, b), Some(Swap::OtherOperator)) => Op::And(a, b),
            (op, _) => op,
        };
        let mut new = circuit.expression(op.map(at));
        match swap {
            Some(Swap::Not) => new = circuit.not(new),
            Some(Swap::Other(other)) => new = other,
            Some(Swap::OtherOperator | Swap::Operand(_)) | None => {}
        }
        made[e.index()] = new;
    }
    made.last().copied().unwrap_or(Expr::LOW)
}

fn made_of(made: &[Expr], x: Expr) -> Expr {
    made.get(x.index()).copied().unwrap_or(Expr::LOW)
}
