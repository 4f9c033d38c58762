//! From a table of values to an expression.
use gluewright::circuit::{Circuit, Expr};

/// The value whose place is the number on `inputs`, the lowest bit first. Missing values at the end are low. Inputs that make
/// no difference don't appear in it.
pub(crate) fn decision(circuit: &mut Circuit, inputs: &[Expr], mut values: Vec<Expr>) -> Expr {
    for &input in inputs {
        values = values
            .chunks(2)
            .map(|pair| match *pair {
                [low, high] => circuit.choose(input, high, low),
                [low] => circuit.choose(input, Expr::LOW, low),
                _ => Expr::LOW,
            })
            .collect();
    }
    values.first().copied().unwrap_or(Expr::LOW)
}
