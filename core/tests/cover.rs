//! Minimised covers against definitions, brute force and published minima.
#![allow(clippy::expect_used)] // a check stops at what it did not expect
use gluewright_devices::cover::{Effort, Function, Minimum, Proof, Value, minimise, minimise_either};
use proptest::prelude::*;

fn minimum(inputs: u32, value: impl FnMut(u64) -> Value) -> Minimum {
    minimise(&Function::from_fn(inputs, value).expect("few inputs"), &Effort::default())
}

fn high(is: bool) -> Value {
    if is { Value::High } else { Value::Low }
}

/// Fewest product terms by trying all sets of the 81 cubes of four inputs, smallest sets first: nothing is shared with
/// the minimiser but the function.
fn brute(on: u16, allowed: u16) -> usize {
    let mut cubes = Vec::new();
    for care in 0..16u32 {
        for value in (0..16u32).filter(|v| v & !care == 0) {
            let table = (0..16u32).filter(|m| m & care == value).fold(0u16, |t, m| t | (1 << m));
            if table & !allowed == 0 && table & on != 0 {
                cubes.push(table & on);
            }
        }
    }
    fn covers(cubes: &[u16], left: u16, terms: usize) -> bool {
        if left == 0 {
            return true;
        }
        let first = left & left.wrapping_neg();
        terms > 0 && cubes.iter().any(|&c| c & first != 0 && covers(cubes, left & !c, terms - 1))
    }
    (0..=16).find(|&n| covers(&cubes, on, n)).expect("minterms cover everything")
}

/// The symmetric function of nine inputs that is high for three to six of them: 84 product terms (Berkeley PLA test set,
/// 9sym; proved minimum).
#[test]
fn the_symmetric_function_of_nine_inputs_takes_84_terms() {
    let m = minimum(9, |m| high((3..=6).contains(&m.count_ones())));
    assert_eq!((m.cover.len(), m.terms), (84, Proof::Proved));
}

/// Parity of n inputs has no two minterms that join: 2ⁿ⁻¹ terms, in either polarity (by definition).
#[test]
fn parity_takes_half_of_all_minterms() {
    for n in 1..=8 {
        let f = Function::from_fn(n, |m| high(m.count_ones() % 2 == 1)).expect("few inputs");
        let either = minimise_either(&f, &Effort::default());
        assert_eq!(either.high.cover.len(), 1 << (n - 1));
        assert_eq!(either.low.expect("few terms").cover.len(), 1 << (n - 1));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn four_inputs_are_never_beaten_by_brute_force(on in any::<u16>(), free in any::<u16>()) {
        let allowed = on | free;
        let m = minimum(4, |m| match ((on >> m) & 1, (allowed >> m) & 1) {
            (1, _) => Value::High,
            (_, 1) => Value::DontCare,
            _ => Value::Low,
        });
        prop_assert_eq!(m.terms, Proof::Proved);
        prop_assert_eq!(m.cover.len(), brute(on, allowed));
    }

    #[test]
    fn a_cover_is_its_function_where_that_matters(
        inputs in 5u32..=9,
        seed in prop::collection::vec(any::<u64>(), 16),
        holes in prop::collection::vec(any::<u64>(), 16),
    ) {
        let bit = |words: &[u64], m: u64| (words[(m >> 6) as usize % words.len()] >> (m & 63)) & 1 == 1;
        let value = |m: u64| match (bit(&seed, m), bit(&holes, m.wrapping_mul(7))) {
            (true, false) => Value::High,
            (false, false) => Value::Low,
            _ => Value::DontCare,
        };
        let m = minimise(&Function::from_fn(inputs, value).expect("few inputs"), &Effort::quick());
        for at in 0..1u64 << inputs {
            match value(at) {
                Value::High => prop_assert!(m.cover.holds(at)),
                Value::Low => prop_assert!(!m.cover.holds(at)),
                Value::DontCare => {}
            }
        }
    }
}
