//! Slips of one word of a source, also such as leave nothing of it in the circuit: the source is built again with another word.
use super::minute;
use crate::mend::{Mending, Mends};
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::prove;

/// The shuttle box of a loom: a lever is seen twice, what changed between is counted by a lamp, and a number selects it.
macro_rules! shuttle {
    ($name:ident, $wiring:ident, |$s:ident, $i:ident| $ended:expr, $lit:expr, $bits:expr, $number:expr) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)]      clock:  Input<Clock>,
            #[contact(2)]      lever:  Input<Data>,
            #[contact(3..=5)]  number: [Input<Data>; 3],
            #[contact(6..=8)]  bits:   [Output<Data>; 3],
            #[contact(9)]      lamp:   Output<ActiveHigh>,
            #[contact(10)]     here:   Output<ActiveLow>,
            seen: Buried<Register>,
            was:  Buried<Register>,
        }

        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let $s = self;
                let clock = self.clock.rises();
                let ended = $ended;
                let here = Word::of(self.number).is($number);
                $wiring {
                    seen: on(clock).load(self.lever.level()),
                    was: on(clock).load(self.seen.q()),
                    bits: each(|$i| on(clock).load_if(ended, $bits)),
                    lamp: {
                        let (one, two) = (ended, here);
                        assert_while($lit(one, two))
                    },
                    here: assert_while(here),
                }
            }
        }
    };
}

fn both(a: Assertion, b: Assertion) -> Assertion {
    a & b
}

fn either(a: Assertion, b: Assertion) -> Assertion {
    a | b
}

shuttle!(Right, RightWiring, |s, i| s.was.q().is_high() & s.seen.q().is_low(), both, s.number[i].level(), 5);

fn mends<C: Wiring>() -> Mends {
    let right = gluewright_kernel::circuit_of::<Right>().expect("it builds");
    match prove::<C>().against(&right).run() {
        Err(Failure::Refuted(r)) => r.mend(minute()),
        other => panic!("expected a refutation: {other:?}"),
    }
}

/// The first mend says this, or one of the same effect does.
#[track_caller]
fn first_says(mends: &Mends, words: &str) {
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    let all = std::iter::once(first.words.as_str()).chain(first.ways.iter().map(|way| way.words.as_str()));
    assert!(all.clone().any(|w| w == words), "{words}: not in {mends}");
    assert!(first.to_string().contains("(line "), "{mends}");
}

#[test]
fn the_right_one_is_proved() {
    let right = gluewright_kernel::circuit_of::<Right>().expect("it builds");
    prove::<Right>().against(&right).run().expect("it is the same");
}

/// High and low at once is never so: the circuit has lost the condition and all that hung on it.
#[test]
fn a_condition_that_folds_to_never_is_found_in_the_source() {
    shuttle!(Folded, FoldedWiring, |s, i| s.was.q().is_high() & s.was.q().is_low(), both, s.number[i].level(), 5);
    let folded = gluewright_kernel::circuit_of::<Folded>().expect("it builds");
    assert!(!folded.expressions().any(|e| matches!(folded.op(e), gluewright_kernel::circuit::Op::And(..))
        && folded.op(e).operands().any(|o| o.as_constant().is_some())));
    first_says(&mends::<Folded>(), "`seen` is read instead of `was`");
}

#[test]
fn the_bits_of_an_array_in_another_order_are_one_change() {
    shuttle!(
        Turned,
        TurnedWiring,
        |s, i| s.was.q().is_high() & s.seen.q().is_low(),
        both,
        s.number[(i + 1) % 3].level(),
        5
    );
    let mends = mends::<Turned>();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("`number[…]` is read one place on"), "{mends}");
}

#[test]
fn another_number_is_named() {
    shuttle!(Numbered, NumberedWiring, |s, i| s.was.q().is_high() & s.seen.q().is_low(), both, s.number[i].level(), 4);
    first_says(&mends::<Numbered>(), "the number is 5 instead of 4");
}

/// The operator stands in a function of its own, which is a place of the source like another.
#[test]
fn an_operator_is_named_where_it_is_written() {
    shuttle!(Either, EitherWiring, |s, i| s.was.q().is_high() & s.seen.q().is_low(), either, s.number[i].level(), 5);
    let mends = mends::<Either>();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("*and* instead of *or*") && first.words.contains("`lamp`"), "{mends}");
}

/// Two slips of which each spoils contacts of its own, both words of the source.
#[test]
fn two_words_of_the_source_are_mended_together() {
    shuttle!(Two, TwoWiring, |s, i| s.was.q().is_high() & s.seen.q().is_low(), both, s.number[(i + 1) % 3].level(), 4);
    let mends = mends::<Two>();
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains(", and ") && first.words.contains("the number is 5 instead of 4"), "{mends}");
}
