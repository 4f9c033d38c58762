//! Expressions made anew with something inside them changed.
use gluewright_kernel::circuit::{Circuit, Expr, Op};

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

/// The operands of an expression.
pub(super) fn operands(op: Op) -> Vec<Expr> {
    match op {
        Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => vec![],
        Op::Not(a) => vec![a],
        Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => vec![a, b],
        Op::Choose(a, b, c) => vec![a, b, c],
    }
}

/// The expressions that `root` is made of, itself included, operands first.
pub(super) fn cone(circuit: &Circuit, root: Expr) -> Vec<Expr> {
    let mut inside = vec![false; root.index() + 1];
    inside[root.index()] = true;
    // operands stand before what uses them
    for i in (0..=root.index()).rev() {
        if inside[i] {
            for o in operands(circuit.op(Expr::at(i))) {
                if let Some(inside) = inside.get_mut(o.index()) {
                    *inside = true;
                }
            }
        }
    }
    inside.iter().enumerate().filter(|(_, inside)| **inside).map(|(i, _)| Expr::at(i)).collect()
}

/// `root` with these expressions inside it changed.
pub(super) fn substitute(circuit: &mut Circuit, root: Expr, swaps: &[(Expr, Swap)]) -> Expr {
    let mut made = vec![Expr::LOW; root.index() + 1];
    for e in cone(circuit, root) {
        let swap = swaps.iter().find(|(of, _)| *of == e).map(|(_, swap)| *swap);
        let inverted = match swap {
            Some(Swap::Operand(k)) => {
                operands(circuit.op(e)).get(k).copied().map(|o| (o, circuit.not(made_of(&made, o))))
            }
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
        let mut new = match op {
            Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => e,
            Op::Not(a) => circuit.not(at(a)),
            Op::And(a, b) => circuit.and(at(a), at(b)),
            Op::Or(a, b) => circuit.or(at(a), at(b)),
            Op::Xor(a, b) => circuit.xor(at(a), at(b)),
            Op::Choose(c, a, b) => circuit.choose(at(c), at(a), at(b)),
        };
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
