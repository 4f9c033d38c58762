//! Words against the machine's own arithmetic, for every pair of four-bit numbers.
use std::collections::HashMap;

use gluewright::circuit::{Circuit, Expr};
use gluewright::prelude::*;
use gluewright::signals::build_with;

use super::evaluate::level;

#[derive(Circuit)]
struct Two {
    #[contact(1..=4)]
    a: [Input<Data>; 4],
    #[contact(5..=8)]
    b: [Input<Data>; 4],
    #[contact(9)]
    c: Input<ActiveHigh>,
    #[contact(10)]
    y: Output<Data>,
}

impl Wiring for Two {
    fn wire(&self) -> TwoWiring {
        TwoWiring { y: follow(Level::LOW) }
    }
}

type Four = Word<4>;

/// Compares what `of` builds with what `meaning` says, for all a, b and c. Bit 0 of a number is the first level.
#[track_caller]
fn check<const N: usize>(
    of: impl FnOnce(Four, Four, Assertion) -> [Level; N],
    meaning: impl Fn(u128, u128, bool) -> u128,
) {
    let (circuit, made) = build_with::<Two, [Expr; N]>(|two| {
        of(Word::of(two.a), Word::of(two.b), two.c.asserted()).map(Level::expression)
    })
    .unwrap();
    for row in 0..1u128 << 9 {
        let (a, b, c) = (row & 15, row >> 4 & 15, row >> 8 == 1);
        assert_eq!(number(&circuit, &made, a, b, c), meaning(a, b, c), "for {a}, {b}, {c}");
    }
}

fn number(circuit: &Circuit, made: &[Expr], a: u128, b: u128, c: bool) -> u128 {
    let mut of = HashMap::from([("c".to_owned(), c)]);
    for i in 0..4 {
        of.insert(format!("a[{i}]"), a >> i & 1 == 1);
        of.insert(format!("b[{i}]"), b >> i & 1 == 1);
    }
    made.iter().enumerate().map(|(i, &e)| u128::from(level(circuit, e, &of)) << i).sum()
}

#[test]
fn sums() {
    check(|a, b, _| a.plus(b).bits(), |a, b, _| (a + b) & 15);
    check(
        |a, b, c| {
            let (sum, carry) = a.plus_with_carry(b, c);
            let [w, x, y, z] = sum.bits();
            [w, x, y, z, high_while(carry)]
        },
        |a, b, c| a + b + u128::from(c),
    );
}

#[test]
fn differences() {
    check(|a, b, _| a.minus(b).bits(), |a, b, _| a.wrapping_sub(b) & 15);
    check(
        |a, b, c| {
            let (difference, borrow) = a.minus_with_borrow(b, c);
            let [w, x, y, z] = difference.bits();
            [w, x, y, z, high_while(borrow)]
        },
        |a, b, c| a.wrapping_sub(b).wrapping_sub(u128::from(c)) & 31,
    );
}

#[test]
fn counting() {
    check(|a, _, _| a.plus_one().bits(), |a, _, _| (a + 1) & 15);
    check(|a, _, _| a.minus_one().bits(), |a, _, _| a.wrapping_sub(1) & 15);
}

#[test]
fn comparisons() {
    check(
        |a, b, _| {
            [a.is(11), a.equals(b), a.less_than(b), a.greater_than(b), a.at_most(b), a.at_least(b)].map(high_while)
        },
        |a, b, _| [a == 11, a == b, a < b, a > b, a <= b, a >= b].iter().rev().fold(0, |n, &t| n * 2 + u128::from(t)),
    );
    check(|a, _, _| [high_while(a.has_odd_parity())], |a, _, _| u128::from(a.count_ones() % 2));
}

#[test]
fn bitwise() {
    check(|a, b, _| (a & b).bits(), |a, b, _| a & b);
    check(|a, b, _| (a | b).bits(), |a, b, _| a | b);
    check(|a, b, _| (a ^ b).bits(), |a, b, _| a ^ b);
    check(|a, _, _| (!a).bits(), |a, _, _| !a & 15);
}

#[test]
fn choices() {
    check(|a, b, c| choose(c, a, b).bits(), |a, b, c| if c { a } else { b });
    check(|a, b, c| [choose(c, a[1], b[2])], |a, b, c| if c { a >> 1 & 1 } else { b >> 2 & 1 });
    check(
        |a, b, c| [high_while(choose(c, a[0].is_low(), b[0].is_high()))],
        |a, b, c| if c { 1 - (a & 1) } else { b & 1 },
    );
    check(
        |a, b, _| [Word::of([a[0], a[1]]).pick(b.bits())], // bit a of b
        |a, b, _| b >> (a & 3) & 1,
    );
    check(|a, b, _| Word::of([a[0]]).pick([b, a]).bits(), |a, b, _| if a & 1 == 1 { a } else { b });
}

#[test]
fn shifts() {
    check(|a, _, c| a.shifted_up(high_while(c)).bits(), |a, _, c| (a << 1 | u128::from(c)) & 15);
    check(|a, _, c| a.shifted_down(high_while(c)).bits(), |a, _, c| a >> 1 | u128::from(c) << 3);
    check(|a, _, _| a.rotated_up(1).bits(), |a, _, _| (a << 1 | a >> 3) & 15);
    check(|a, _, _| a.rotated_down(5).bits(), |a, _, _| (a >> 1 | a << 3) & 15);
    check(|a, _, _| a.reversed().bits(), |a, _, _| (a.reverse_bits() >> 124) & 15);
    check(
        |a, _, _| <[Level; 4]>::try_from(a.into_iter().rev().collect::<Vec<_>>()).unwrap(),
        |a, _, _| (a.reverse_bits() >> 124) & 15,
    );
    check(|a, _, _| Word::<4>::from_fn(|i| a[3 - i]).bits(), |a, _, _| (a.reverse_bits() >> 124) & 15);
}

#[test]
fn fixed_numbers() {
    check(|_, _, _| Word::<4>::number(9).bits(), |_, _, _| 9);
    check(|_, _, _| Word::<70>::number(u64::MAX).bits(), |_, _, _| u64::MAX.into());
    check(|_, _, _| [high_while(Word::<0>::number(0).is(0))], |_, _, _| 1);
}

#[test]
fn levels_compare() {
    check(
        |a, b, _| [a[0].differs_from(b[0]), a[0].same_as(b[0])].map(high_while),
        |a, b, _| if (a ^ b) & 1 == 1 { 1 } else { 2 },
    );
    check(
        |a, b, c| [all_of([a[0].is_high(), b[0].is_high(), c]), any_of([a[0].is_low(), c])].map(high_while),
        |a, b, c| u128::from(a & b & 1 == 1 && c) + 2 * u128::from(a & 1 == 0 || c),
    );
    check(
        |_, _, _| [high_while(all_of([Assertion::NEVER; 0])), low_while(any_of([Assertion::ALWAYS; 0]))],
        |_, _, _| 3,
    );
}
