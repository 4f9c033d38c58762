//! What follows the counts that a decade counter never reaches by itself: where a logic diagram decides it a replacement must
//! do the same; where none does it may do as it likes, and a part that stays may not be relied on.
#![allow(clippy::unwrap_used, reason = "the drawer has these parts, and the circuits can be built")]
use gluewright::circuit::{By, Circuit as Wired, Contact, Direction, Driver, Expr, Label, Origin, Stage};
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
    // Motorola's state diagram of the LS160A (from memory): 10, 11, 6; 12, 13, 4; 14, 15, 2
    AsDrawn: |count| choose(
        count.is(9),
        Word::number(0),
        choose(
            count.is(11),
            Word::number(6),
            choose(count.is(13), Word::number(4), choose(count.is(15), Word::number(2), count.plus_one())),
        ),
    );
    // ten to fifteen go up to sixteen
    CountsOn: |count| choose(count.is(9), Word::number(0), count.plus_one());
    // ten to fifteen go to nought
    GoesHome: |count| choose(count[3].is_high() & (count[0].is_high() | count[1].is_high() | count[2].is_high()), Word::number(0), count.plus_one());
    // ten and eleven stay where they are
    Sticks: |count| choose(count[3].is_high() & count[1].is_high(), count, choose(count.is(9), Word::number(0), count.plus_one()));
    // eight is left out, and nobody lets it
    Skips: |count| choose(count.is(7), Word::number(9), choose(count.is(9), Word::number(0), count.plus_one()));
}

/// The pins of the 74LS168, counting as it does, but for what `$after` makes of 10 when it counts down.
macro_rules! up_down_counters {
    ($($name:ident: $after:literal;)+) => {$(
        #[derive(Circuit)]
        struct $name {
            #[contact(1)] up: Input<Data>,
            #[contact(2)] clock: Input<Clock>,
            #[contact(3..=6)] preset: [Input<Data>; 4],
            #[contact(7)] enable: Input<ActiveLow>,
            #[contact(10)] carry_in: Input<ActiveLow>,
            #[contact(9)] load: Input<ActiveLow>,
            #[contact(14..=11)] count: [Output<Data>; 4],
            #[contact(15)] carry: Output<ActiveLow>,
        }

        impl Wiring for $name {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$name as Circuit>::Wiring;
                let (count, up) = (Word::of(self.count), self.up.level().is_high());
                let at = |up: [u64; 16]| count.pick(up.map(Word::<4>::number));
                let upward = at([1, 2, 3, 4, 5, 6, 7, 8, 9, 0, 11, 6, 13, 4, 15, 2]);
                let downward = at([9, 0, 1, 2, 3, 4, 5, 6, 7, 8, $after, 10, 3, 12, 5, 14]);
                let counting = self.enable.asserted() & self.carry_in.asserted();
                let counted = choose(counting, choose(up, upward, downward), count);
                let next = choose(self.load.asserted(), Word::of(self.preset), counted);
                let end = choose(up, count[0].is_high() & count[3].is_high(), count.is(0));
                Filled {
                    count: each(|i| on(self.clock.rises()).load(next[i])),
                    carry: assert_while(self.carry_in.asserted() & end),
                }
            }
        }
    )+};
}

up_down_counters! {
    DownToNine: 9;
    DownToOne: 1;
    DownToFive: 5;
}

fn part(function: &str) -> Wired {
    Wired::clone(ttl().function(function).unwrap().logic().unwrap())
}

fn ask(original: Wired, replacement: Wired) -> Result<Proof, Failure> {
    Question::new(original, replacement).ask()
}

#[test]
fn what_a_diagram_decides_a_replacement_must_do() {
    let proof = ask(part("160"), gluewright::circuit_of::<AsDrawn>().unwrap()).unwrap();
    assert_eq!(proof.unknowns, [] as [&str; 0]);
    for other in [
        gluewright::circuit_of::<CountsOn>(),
        gluewright::circuit_of::<GoesHome>(),
        gluewright::circuit_of::<Sticks>(),
        gluewright::circuit_of::<Skips>(),
    ] {
        let other = other.unwrap();
        let name = other.name.clone();
        let said = ask(part("160"), other);
        assert!(matches!(said, Err(Failure::Refuted(_))), "{name}: {said:?}");
    }
    assert_eq!(ask(part("161"), part("161")).unwrap().unknowns, [] as [&str; 0]);
}

#[test]
fn where_no_diagram_decides_a_replacement_may_do_either() {
    for replacement in [gluewright::circuit_of::<DownToNine>(), gluewright::circuit_of::<DownToOne>()] {
        let replacement = replacement.unwrap();
        let name = replacement.name.clone();
        let proof = ask(part("168"), replacement).unwrap_or_else(|failure| panic!("{name}: {failure}"));
        assert!(proof.unknowns.iter().any(|u| u.contains("data sheet")), "{name}: {:?}", proof.unknowns);
    }
    // it is D alone that is open
    let said = ask(part("168"), gluewright::circuit_of::<DownToFive>().unwrap());
    assert!(matches!(said, Err(Failure::Refuted(_))), "{said:?}");
}

#[test]
fn a_part_that_stays_must_be_right_whatever_it_does_there() {
    let said = ask(gluewright::circuit_of::<DownToNine>().unwrap(), part("168"));
    assert!(said.is_err(), "a 74LS168 of some maker counts otherwise: {said:?}");
    // but two of them may be exchanged: the original's maker is as unknown as the replacement's
    ask(part("168"), part("168")).unwrap();
    ask(part("90"), part("90")).unwrap();
}

/// A part with the pins of a counter whose outputs never move: `high` are those that stand high.
fn stands_still(function: &str, high: &[u16]) -> Wired {
    let logic = part(function);
    let mut still = Wired::new("stands still");
    for contact in logic.contacts() {
        let net = still.add_net(&contact.name, Origin::Nowhere);
        still.add_contact(Contact { net, ..contact.clone() });
        if contact.direction == Direction::Output {
            let level = Expr::constant(high.iter().any(|&pin| contact.label == Label::from(pin)));
            let (name, origin, stage) = (contact.name.clone(), Origin::Nowhere, Stage::PushPull);
            still.drive(net, Driver { enable: Expr::HIGH, level, stage, by: By::signal(name), origin });
        }
    }
    still
}

/// A counter that nobody resets comes up above nine, but it doesn't stay there: ten, with the carries as they rest there.
#[test]
fn a_constant_is_no_counter_that_nobody_resets() {
    for (function, high) in [
        ("160", &[13, 11][..]),
        ("162", &[13, 11]),
        ("168", &[13, 11, 15]),
        ("190", &[2, 7, 13]),
        ("192", &[2, 7, 12, 13]),
        ("90", &[9, 8, 11]),
        ("92", &[11, 9]),
    ] {
        let said = ask(part(function), stands_still(function, high));
        assert!(matches!(said, Err(Failure::Refuted(_))), "{function}: {said:?}");
    }
}
