//! A general-purpose library on the same functions: the optimised disjunctive normal form of a binary decision diagram.
use std::time::{Duration, Instant};

use biodivine_lib_bdd::{Bdd, BddPartialValuation, BddVariableSet};
use gluewright_devices::cover::{Cover, Function};

/// The number of terms that it finds, and in what time. It knows no don't-cares: it gets the function that is low there.
pub fn minimise(function: &Function) -> (usize, Duration) {
    let begin = Instant::now();
    let bdd = bdd(function.on());
    let terms = bdd.to_optimized_dnf().len();
    (terms, begin.elapsed())
}

fn bdd(cover: &Cover) -> Bdd {
    let variables = BddVariableSet::new_anonymous(cover.inputs() as u16);
    let names = variables.variables();
    let terms: Vec<BddPartialValuation> = cover
        .cubes()
        .iter()
        .map(|c| {
            let literals = names.iter().enumerate().filter(|(i, _)| c.care() >> i & 1 == 1);
            BddPartialValuation::from_values(&literals.map(|(i, &v)| (v, c.value() >> i & 1 == 1)).collect::<Vec<_>>())
        })
        .collect();
    variables.mk_dnf(&terms)
}
