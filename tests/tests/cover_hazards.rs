//! Covers that stay high while inputs change, judged by ternary evaluation and by exhaustive choice among all primes.
use gluewright_devices::cover::hazard::not_needed;
use gluewright_devices::cover::{
    Cover, CoverError, Cube, Effort, Function, Hazard, Proof, Steady, Value, make_hazard_free, minimise,
    minimise_steady, single_changes, static_hazards,
};
use gluewright_tests::gates::Numbers;
use proptest::prelude::*;

/// A sum of products over low, high and unknown (after E. B. Eichelberger, "Hazard detection in combinational and
/// sequential switching circuits", IBM J. R&D 1965): the inputs of `unknown` may be anything at any moment.
fn is_surely_high(cover: &Cover, minterm: u64, unknown: u64) -> bool {
    let literal = |c: &Cube, i: u32| {
        let level = if unknown >> i & 1 == 1 { None } else { Some(minterm >> i & 1) };
        level.map(|l| l == c.value() >> i & 1)
    };
    let product = |c: &Cube| {
        let read = (0..cover.inputs()).filter(|&i| c.care() >> i & 1 == 1);
        let mut all = Some(true);
        for i in read {
            all = match (all, literal(c, i)) {
                (Some(false), _) | (_, Some(false)) => Some(false),
                (Some(true), Some(true)) => Some(true),
                _ => None,
            };
        }
        all
    };
    cover.cubes().iter().any(|c| product(c) == Some(true))
}

fn table(inputs: u32, table: u64) -> Function {
    Function::from_fn(inputs, |m| if table >> m & 1 == 1 { Value::High } else { Value::Low }).unwrap()
}

fn every_input(inputs: u32) -> u64 {
    (1 << inputs) - 1
}

/// The multiplexer (and the transparent latch, whose `b` is its own output).
fn multiplexer() -> (Cover, [Cube; 3]) {
    let [low, high, both] = [(0b010, 0b001), (0b101, 0), (0b110, 0)].map(|(p, n)| Cube::new(p, n).unwrap());
    (Cover::new(3, vec![low, high]).unwrap(), [low, high, both])
}

#[test]
fn the_latch_gets_the_term_that_holds_it_while_its_gate_changes() {
    let (minimal, [low, high, both]) = multiplexer();
    let function = Function::from_cover(minimal.clone());
    assert_eq!(minimise(&function, &Effort::default()).cover.len(), 2);
    let demands = single_changes(&minimal, every_input(3), None).unwrap();
    assert_eq!(static_hazards(&minimal, &demands), [Hazard { changing: 0b001, at: both }]);
    let safe = make_hazard_free(&minimal, &function, &demands, &Effort::default()).unwrap();
    let mut expected = [low, high, both];
    expected.sort();
    assert_eq!((safe.cover.cubes(), safe.terms), (&expected[..], Proof::Proved));
    assert_eq!(static_hazards(&safe.cover, &demands), []);
    let spare: Vec<Cube> =
        safe.cover.cubes().iter().zip(not_needed(&safe.cover, &function)).filter(|n| n.1).map(|n| *n.0).collect();
    assert_eq!(spare, [both]);
    // stored inverted, the term that is needed is another one: neither data input
    let inverted = function.complemented().unwrap();
    let demands = single_changes(inverted.on(), every_input(3), None).unwrap();
    let safe = minimise_steady(&inverted, &demands, &[], &Effort::default()).unwrap();
    assert_eq!(safe.cover.len(), 3);
    assert!(safe.cover.cubes().contains(&Cube::new(0, 0b110).unwrap()));
}

#[test]
fn only_the_transitions_that_matter_are_bridged() {
    let (minimal, [_, _, both]) = multiplexer();
    let function = Function::from_cover(minimal.clone());
    let hazards = |inputs, condition: Option<&Cover>| {
        static_hazards(&minimal, &single_changes(&minimal, inputs, condition).unwrap())
    };
    assert_eq!(hazards(0b110, None), []);
    assert_eq!(hazards(0b001, None).len(), 1);
    let never = Cover::new(3, vec![Cube::new(0b010, 0b100).unwrap()]).unwrap();
    assert_eq!(hazards(0b001, Some(&never)), []);
    // the condition must hold before and after: here it holds on one side of every change
    let one_side = Cover::new(3, vec![Cube::literal(0, true)]).unwrap();
    assert_eq!(hazards(0b001, Some(&one_side)), []);
    let where_both = Cover::new(3, vec![both]).unwrap();
    assert_eq!(hazards(0b001, Some(&where_both)), [Hazard { changing: 1, at: both }]);
    let none = make_hazard_free(&minimal, &function, &[], &Effort::default()).unwrap();
    assert_eq!(none.cover.len(), 2);
}

#[test]
fn several_inputs_that_change_together_need_a_term_that_reads_none_of_them() {
    // high for four or fewer of the counts 0 to 7, and for 6: while bits 0 and 1 both move, only bit 2 can hold it
    let function = Function::from_fn(3, |m| if m < 4 || m == 6 { Value::High } else { Value::Low }).unwrap();
    let region = Cover::new(3, vec![Cube::literal(2, false)]).unwrap();
    let demand = Steady { changing: 0b011, region };
    let split = Cover::new(3, [0, 1].map(|b| Cube::new(b, 0b101 & !b).unwrap()).to_vec()).unwrap();
    assert_eq!(static_hazards(&split, std::slice::from_ref(&demand)).len(), 1);
    let found = minimise_steady(&function, &[demand], &[], &Effort::default()).unwrap();
    assert!(found.cover.cubes().contains(&Cube::literal(2, false)));
}

#[test]
fn what_is_asked_for_where_the_function_is_low_is_an_error() {
    let (minimal, [low, _, both]) = multiplexer();
    let function = Function::from_cover(minimal.clone());
    let cube = low.without(0b010);
    assert_eq!(
        minimise_steady(&function, &[], &[both, cube], &Effort::default()),
        Err(CoverError::NotAnImplicant { index: 1, cube })
    );
    let demand = Steady { changing: 0b100, region: Cover::new(3, vec![low, Cube::literal(0, true)]).unwrap() };
    let refused = minimise_steady(&function, &[demand], &[], &Effort::default());
    assert!(matches!(refused, Err(CoverError::NotAnImplicant { index: 0, .. })));
    let other = Cover::new(4, Vec::new()).unwrap();
    assert!(matches!(
        make_hazard_free(&other, &function, &[], &Effort::default()),
        Err(CoverError::DifferentInputs { left: 4, right: 3 })
    ));
    let wrong = Cover::new(3, vec![Cube::literal(0, true)]).unwrap();
    assert!(make_hazard_free(&wrong, &function, &[], &Effort::default()).is_err());
}

/// The fewest of all primes that hold the function, each pair of neighbours where it is high, and the required cubes.
fn exhaustive(function: &Function, required: &[Cube]) -> usize {
    let inputs = function.inputs();
    let primes = function.on().complete_sum().unwrap();
    let high: Vec<u64> = (0..1 << inputs).filter(|&m| function.value(m) == Value::High).collect();
    let mut places: Vec<Cube> = required.to_vec();
    for &m in &high {
        places.push(Cube::minterm(inputs, m));
        let neighbours = (0..inputs).filter(|i| high.contains(&(m ^ 1 << i)));
        places.extend(neighbours.map(|i| Cube::minterm(inputs, m).without(1 << i)));
    }
    let rows: Vec<u64> = places
        .iter()
        .map(|p| primes.cubes().iter().enumerate().filter(|c| c.1.contains(*p)).fold(0, |r, c| r | 1 << c.0))
        .collect();
    let choices = (0u64..1 << primes.len()).filter(|choice| rows.iter().all(|row| row & choice != 0));
    choices.map(|choice| choice.count_ones() as usize).min().unwrap()
}

#[test]
fn the_fewest_safe_terms_of_small_functions() {
    let mut numbers = Numbers(5);
    for round in 0..400 {
        let inputs = 3 + round % 2;
        let function = table(inputs, numbers.below(1 << (1 << inputs)) as u64);
        let demands = single_changes(function.on(), every_input(inputs), None).unwrap();
        let pick = |c: &&Cube| c.literals() + 1 < inputs;
        let required: Vec<Cube> = if round % 3 == 0 {
            function.on().complete_sum().unwrap().cubes().iter().filter(pick).copied().take(2).collect()
        } else {
            Vec::new()
        };
        let found = minimise_steady(&function, &demands, &required, &Effort::default()).unwrap();
        assert_eq!(function.difference(&found.cover), None);
        assert_eq!(found.terms, Proof::Proved);
        assert_eq!(found.cover.len(), exhaustive(&function, &required), "{function:?}");
        assert!(required.iter().all(|r| found.cover.cubes().iter().any(|c| c.contains(*r))));
        // without the list of all primes it is as safe, if not always as small
        let rough = Effort { primes: 0, ..Effort::default() };
        let rough = minimise_steady(&function, &demands, &required, &rough).unwrap();
        assert_eq!(function.difference(&rough.cover), None);
        assert_eq!(static_hazards(&rough.cover, &demands), []);
        assert!(required.iter().all(|r| rough.cover.cubes().iter().any(|c| c.contains(*r))));
        match rough.terms {
            Proof::Proved => assert_eq!(rough.cover.len(), found.cover.len()),
            Proof::Heuristic { lower_bound } => assert!(lower_bound <= found.cover.len()),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 80, ..ProptestConfig::default() })]

    #[test]
    fn neighbours_never_dip(inputs in 4u32..8, seed: [u64; 2], free: [u64; 2], quick: bool) {
        let at = |words: &[u64; 2], m: u64| words[(m / 64) as usize % 2] >> (m % 64) & 1 == 1;
        let function = Function::from_fn(inputs, |m| match (at(&seed, m), at(&free, m) && at(&free, m * 3)) {
            (_, true) => Value::DontCare,
            (true, _) => Value::High,
            _ => Value::Low,
        }).unwrap();
        let effort = if quick { Effort::quick() } else { Effort::default() };
        let demands = single_changes(function.on(), every_input(inputs), None).unwrap();
        let least = minimise(&function, &effort).cover;
        let safe = minimise_steady(&function, &demands, &[], &effort).unwrap();
        let patched = make_hazard_free(&least, &function, &demands, &effort).unwrap();
        prop_assert!(least.cubes().iter().all(|c| patched.cover.cubes().contains(c)));
        for cover in [&safe.cover, &patched.cover] {
            prop_assert_eq!(function.difference(cover), None);
            prop_assert_eq!(static_hazards(cover, &demands), []);
        }
        if safe.terms.is_proved() {
            prop_assert!(patched.cover.len() >= safe.cover.len());
        }
        let high = |m: u64| function.value(m) == Value::High;
        let mut dips = 0;
        for m in (0..1 << inputs).filter(|&m| high(m)) {
            for i in (0..inputs).filter(|i| high(m ^ 1 << i)) {
                prop_assert!(is_surely_high(&safe.cover, m, 1 << i), "{m} {i}");
                prop_assert!(is_surely_high(&patched.cover, m, 1 << i), "{m} {i}");
                dips += usize::from(!is_surely_high(&least, m, 1 << i));
            }
        }
        // what ternary evaluation finds in the minimum, the list of hazards names: each change counted from both sides
        let named: u64 = static_hazards(&least, &demands)
            .iter()
            .map(|h| 1u64 << (inputs - 1 - h.at.literals()))
            .sum();
        prop_assert_eq!(dips as u64, 2 * named);
        // no term of the smallest safe cover can go
        for at in 0..safe.cover.len() {
            let rest = [&safe.cover.cubes()[..at], &safe.cover.cubes()[at + 1..]].concat();
            let rest = Cover::new(inputs, rest).unwrap();
            prop_assert!(function.difference(&rest).is_some() || !static_hazards(&rest, &demands).is_empty());
        }
    }

    #[test]
    fn wide_sums_are_made_safe(literals in prop::collection::vec((any::<u32>(), any::<u32>(), any::<u32>()), 2..7)) {
        let cube = |&(a, b, v): &(u32, u32, u32)| Cube::reading(u64::from(a & b) & 0xff_ffff, u64::from(v));
        let cover = Cover::new(24, literals.iter().map(cube).collect()).unwrap();
        let function = Function::from_cover(cover.clone());
        let demands = single_changes(&cover, every_input(24), None).unwrap();
        let safe = minimise_steady(&function, &demands, &[], &Effort::default()).unwrap();
        prop_assert_eq!(function.difference(&safe.cover), None);
        prop_assert_eq!(static_hazards(&safe.cover, &demands), []);
    }
}
