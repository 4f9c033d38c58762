//! What must hold of covers of any size, on random functions; binary decision diagrams of a general-purpose library
//! judge equality.
use biodivine_lib_bdd::{Bdd, BddPartialValuation, BddVariableSet};
use gluewright_devices::cover::{
    Cover, CoverError, Cube, Effort, Function, MAX_INPUTS, Minimum, Proof, Value, minimise, minimise_either,
};
use proptest::prelude::*;

fn diagram(cover: &Cover) -> Bdd {
    let variables = BddVariableSet::new_anonymous(cover.inputs() as u16);
    let names = variables.variables();
    let term = |c: &Cube| {
        let read = names.iter().enumerate().filter(|(i, _)| c.care() >> i & 1 == 1);
        BddPartialValuation::from_values(&read.map(|(i, &v)| (v, c.value() >> i & 1 == 1)).collect::<Vec<_>>())
    };
    variables.mk_dnf(&cover.cubes().iter().map(term).collect::<Vec<_>>())
}

/// The function, no term to spare, no literal to spare: judged by decision diagrams.
fn check(function: &Function, found: &Minimum) -> Result<(), TestCaseError> {
    let (on, sum) = (diagram(function.on()), diagram(&found.cover));
    let allowed = on.or(&diagram(function.dont_care()));
    prop_assert!(on.and_not(&sum).is_false(), "low where it must be high");
    prop_assert!(sum.and_not(&allowed).is_false(), "high where it must be low");
    let inputs = function.inputs();
    for (at, c) in found.cover.cubes().iter().enumerate() {
        let rest = [&found.cover.cubes()[..at], &found.cover.cubes()[at + 1..]].concat();
        let rest = diagram(&Cover::new(inputs, rest).unwrap());
        prop_assert!(!on.and_not(&rest).is_false(), "term {at} could go");
        for i in (0..inputs).filter(|i| c.care() >> i & 1 == 1) {
            let wider = diagram(&Cover::new(inputs, vec![c.without(1 << i)]).unwrap());
            prop_assert!(!wider.and_not(&allowed).is_false(), "term {at} could do without input {i}");
        }
    }
    if let Proof::Heuristic { lower_bound } = found.terms {
        prop_assert!(lower_bound < found.cover.len());
    }
    Ok(())
}

/// Some terms over `inputs` inputs, reading about `read` in eight of them.
fn cover(inputs: u32, most: usize, read: u64) -> impl Strategy<Value = Cover> {
    let cube = prop::collection::vec((0..8u64, any::<bool>()), inputs as usize).prop_map(move |literals| {
        let care = literals.iter().enumerate().fold(0, |m, (i, l)| m | u64::from(l.0 < read) << i);
        Cube::reading(care, literals.iter().enumerate().fold(0, |m, (i, l)| m | u64::from(l.1) << i))
    });
    prop::collection::vec(cube, 0..=most).prop_map(move |cubes| Cover::new(inputs, cubes).unwrap())
}

fn function(inputs: u32, most: usize, read: u64) -> impl Strategy<Value = Function> {
    (cover(inputs, most, read), cover(inputs, most / 2, read)).prop_map(|(on, free)| Function::new(on, free).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn tables(f in (1..=10u32).prop_flat_map(|n| function(n, 30, 5))) {
        let found = minimise_either(&f, &Effort::default());
        check(&f, &found.high)?;
        check(&f.complemented().unwrap(), &found.low.unwrap())?;
    }

    #[test]
    fn lists(f in (13..=24u32).prop_flat_map(|n| function(n, 12, 5))) {
        check(&f, &minimise(&f, &Effort::default()))?;
    }

    #[test]
    fn without_all_primes(f in (4..=20u32).prop_flat_map(|n| function(n, 10, 5))) {
        let found = minimise(&f, &Effort { primes: 0, rounds: 4, ..Effort::default() });
        check(&f, &found)?;
        let exact = minimise(&f, &Effort::default());
        if exact.terms.is_proved() {
            prop_assert!(found.cover.len() >= exact.cover.len());
            if let Proof::Heuristic { lower_bound } = found.terms {
                prop_assert!(lower_bound <= exact.cover.len());
            }
        }
    }

    #[test]
    fn the_numbers_of_inputs_do_not_matter(f in (2..=14u32).prop_flat_map(|n| function(n, 8, 5))) {
        let far = |c: &Cover| {
            let cubes = c.cubes().iter().map(|c| Cube::reading(c.care() << 50, c.value() << 50));
            Cover::new(64, cubes.collect()).unwrap()
        };
        let near = minimise(&f, &Effort::default());
        let apart = minimise(&Function::new(far(f.on()), far(f.dont_care())).unwrap(), &Effort::default());
        prop_assert_eq!(far(&near.cover), apart.cover);
    }

    #[test]
    fn operations(a in cover(9, 12, 4), b in cover(9, 12, 4), m in 0..512u64, by in cover(9, 1, 3)) {
        let (da, db) = (diagram(&a), diagram(&b));
        prop_assert_eq!(diagram(&a.complement().unwrap()), da.not());
        prop_assert_eq!(diagram(&a.union(&b).unwrap()), da.or(&db));
        prop_assert_eq!(diagram(&a.intersection(&b).unwrap()), da.and(&db));
        prop_assert_eq!(diagram(&a.minus(&b).unwrap()), da.and_not(&db));
        prop_assert_eq!(diagram(&a.complete_sum().unwrap()), da.clone());
        prop_assert_eq!(a.contains_all(&b), db.and_not(&da).is_false());
        prop_assert_eq!(a.is_tautology(), da.is_true());
        prop_assert_eq!(a.overlap(&b).is_some(), !da.and(&db).is_false());
        prop_assert_eq!(a.is_equivalent(&b), da == db);
        prop_assert_eq!(a.complement().unwrap().holds(m), !a.holds(m));
        if let Some(&by) = by.cubes().first() {
            let there = (m & !by.care()) | by.value();
            prop_assert_eq!(a.cofactor(by).holds(m), a.holds(there));
            prop_assert_eq!(a.contains(by), diagram(&by_itself(by)).and_not(&da).is_false());
            if let Some(gap) = a.gap(by) {
                prop_assert!(by.contains(gap) && !a.cubes().iter().any(|c| c.meets(gap)));
            }
        }
    }

    #[test]
    fn wide_complements(a in cover(30, 8, 2)) {
        prop_assert_eq!(diagram(&a.complement().unwrap()), diagram(&a).not());
    }
}

fn by_itself(cube: Cube) -> Cover {
    Cover::new(9, vec![cube]).unwrap()
}

#[test]
fn what_cannot_be_is_an_error_that_says_the_mend() {
    let none = || Cover::new(4, Vec::new()).unwrap();
    let all = |inputs| Cover::new(inputs, vec![Cube::ONE]);
    assert_eq!(all(65), Err(CoverError::TooManyInputs { inputs: 65, most: MAX_INPUTS }));
    assert!(all(64).is_ok());
    assert_eq!(
        Cover::new(4, vec![Cube::ONE, Cube::literal(6, true)]),
        Err(CoverError::UnknownInput { term: 1, input: 6, inputs: 4 })
    );
    assert_eq!(Function::new(none(), all(5).unwrap()), Err(CoverError::DifferentInputs { left: 4, right: 5 }));
    let value = |_| Value::Low;
    assert_eq!(Function::from_fn(21, value), Err(CoverError::TooManyInputs { inputs: 21, most: 20 }));
    assert_eq!(Function::from_fn(70, value), Err(CoverError::TooManyInputs { inputs: 70, most: 64 }));
    assert_eq!(
        Function::from_tables(7, &[0], &[0, 0]),
        Err(CoverError::TableSize { inputs: 7, words: 1, expected: 2 })
    );
    let (a, b) = (Cube::literal(0, true), Cube::literal(1, false));
    let one = |c| Cover::new(4, vec![c]).unwrap();
    let both = Function::from_on_off(one(a), one(b));
    assert_eq!(both, Err(CoverError::Contradiction { at: a.intersection(b).unwrap() }));
    assert!(both.unwrap_err().to_string().contains("take the overlap out"));
    // sixteen disjoint pairs: 65536 terms, one more pair is too much
    let pairs = |n: u32| Cover::new(2 * n, (0..n).map(|i| Cube::reading(3 << (2 * i), u64::MAX)).collect()).unwrap();
    assert_eq!(pairs(10).complement().unwrap().len(), 1 << 10);
    assert_eq!(pairs(32).complement(), Err(CoverError::TooManyTerms { limit: 1 << 16 }));
    let either = minimise_either(&Function::from_cover(pairs(32)), &Effort::default());
    assert_eq!((either.high.cover.len(), either.high.terms), (32, Proof::Proved));
    assert!(either.low.is_err());
    assert!(!either.fewer().1);
}

#[test]
fn constants_have_no_or_one_term() {
    for inputs in [0, 1, 6, 17, 64] {
        let low = Function::from_cover(Cover::new(inputs, Vec::new()).unwrap());
        let found = minimise_either(&low, &Effort::default());
        assert!(found.high.cover.is_empty());
        assert_eq!(found.low.unwrap().cover.cubes(), [Cube::ONE]);
        let high = Function::from_cover(Cover::new(inputs, vec![Cube::ONE]).unwrap());
        assert_eq!(minimise(&high, &Effort::default()).cover.cubes(), [Cube::ONE]);
    }
    assert_eq!(minimise(&Function::from_fn(0, |_| Value::High).unwrap(), &Effort::quick()).cover.len(), 1);
}

#[test]
fn on_and_off_leave_the_rest_free() {
    let on = Cover::new(3, vec![Cube::minterm(3, 7)]).unwrap();
    let off = Cover::new(3, vec![Cube::minterm(3, 0)]).unwrap();
    let found = minimise(&Function::from_on_off(on, off).unwrap(), &Effort::default());
    assert_eq!((found.cover.len(), found.cover.literals(), found.literals), (1, 1, Proof::Proved));
}
