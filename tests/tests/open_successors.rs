//! Where no data sheet says what follows a count, a replacement may do as it likes, and a part that stays may not be relied on.
#![allow(clippy::unwrap_used, reason = "the drawer has these parts, and the circuits can be built")]
use gluewright::circuit::Circuit as Wired;
use gluewright::prelude::*;
use gluewright::prove::{Failure, Proof, Question};
use gluewright_parts::ttl;

/// The pins of the 74LS160 with a count of the writer's own: `$after` follows each number.
macro_rules! counters {
    ($($name:ident: $after:expr;)+) => {$(
        #[derive(Circuit)]
        struct $name {
            #[contact(1)] clear: Input<ActiveLow>,
            #[contact(2)] clock: Input<Clock>,
            #[contact(3..=6)] preset: [Input<Data>; 4],
            #[contact(7)] enable: Input<ActiveHigh>,
            #[contact(10)] carry_in: Input<ActiveHigh>,
            #[contact(9)] load: Input<ActiveLow>,
            #[contact(14..=11)] count: [Output<Data>; 4],
            #[contact(15)] carry: Output<ActiveHigh>,
        }

        impl Wiring for $name {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$name as Circuit>::Wiring;
                let count = Word::of(self.count);
                let after: fn(Word<4>) -> Word<4> = $after;
                let counted = choose(self.enable.asserted() & self.carry_in.asserted(), after(count), count);
                let next = choose(self.load.asserted(), Word::of(self.preset), counted);
                Filled {
                    count: each(|i| on(self.clock.rises()).load(next[i]).clear_while(self.clear.asserted())),
                    carry: assert_while(self.carry_in.asserted() & count.is(9)),
                }
            }
        }
    )+};
}

counters! {
    // ten to fifteen go up to sixteen
    CountsOn: |count| choose(count.is(9), Word::number(0), count.plus_one());
    // ten to fifteen go to nought
    GoesHome: |count| choose(count[3].is_high() & (count[0].is_high() | count[1].is_high() | count[2].is_high()), Word::number(0), count.plus_one());
    // ten and eleven stay where they are
    Sticks: |count| choose(count[3].is_high() & count[1].is_high(), count, choose(count.is(9), Word::number(0), count.plus_one()));
    // eight is left out, and nobody lets it
    Skips: |count| choose(count.is(7), Word::number(9), choose(count.is(9), Word::number(0), count.plus_one()));
}

fn decade() -> Wired {
    Wired::clone(ttl().function("160").unwrap().logic().unwrap())
}

fn ask(original: Wired, replacement: Wired) -> Result<Proof, Failure> {
    Question::new(original, replacement).ask()
}

#[test]
fn a_replacement_may_go_anywhere_from_a_count_above_nine() {
    for replacement in
        [gluewright::circuit_of::<CountsOn>(), gluewright::circuit_of::<GoesHome>(), gluewright::circuit_of::<Sticks>()]
    {
        let replacement = replacement.unwrap();
        let name = replacement.name.clone();
        let proof = ask(decade(), replacement).unwrap_or_else(|failure| panic!("{name}: {failure}"));
        assert!(proof.unknowns.iter().any(|u| u.contains("data sheet")), "{name}: {:?}", proof.unknowns);
    }
}

#[test]
fn nothing_else_is_left_open() {
    let said = ask(decade(), gluewright::circuit_of::<Skips>().unwrap());
    assert!(matches!(said, Err(Failure::Refuted(_))), "{said:?}");
    // where every successor is known no unknown is listed
    let binary = || Wired::clone(ttl().function("161").unwrap().logic().unwrap());
    assert_eq!(ask(binary(), binary()).unwrap().unknowns, [] as [&str; 0]);
}

#[test]
fn a_part_that_stays_must_be_right_whatever_it_does_there() {
    let said = ask(gluewright::circuit_of::<CountsOn>().unwrap(), decade());
    assert!(said.is_err(), "a 74LS160 of some maker counts otherwise: {said:?}");
    // but two of them may be exchanged: the original's maker is as unknown as the replacement's
    ask(decade(), decade()).unwrap();
}
