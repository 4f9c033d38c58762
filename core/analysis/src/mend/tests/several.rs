//! Several slips at once, and slips at one of several places where the same stands.
use super::minute;
use crate::mend::{Mending, Mends};
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::prove;

/// A line of a telephone exchange: a call rings until it is answered, and is noted once; two trunks share a bell.
macro_rules! line {
    ($name:ident, $wiring:ident, |$s:ident| $ring:expr, $lamp:expr, $tone:expr, $noted:expr, $shared:expr) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)]       clock:  Input<Clock>,
            #[contact(2)]       call:   Input<ActiveHigh>,
            #[contact(3)]       answer: Input<ActiveLow>,
            #[contact(4)]       busy:   Input<ActiveHigh>,
            #[contact(5..=6)]   trunk:  [Input<Data>; 2],
            #[contact(7)]       ring:   Output<ActiveHigh>,
            #[contact(8)]       lamp:   Output<ActiveLow>,
            #[contact(9)]       tone:   Output<Data>,
            #[contact(10)]      noted:  Output<ActiveLow>,
            #[contact(11)]      first:  Output<ActiveLow>,
            #[contact(12)]      bell:   Output<ActiveLow>,
            #[contact(13)]      gong:   Output<ActiveLow>,
            #[contact(14)]      second: Output<ActiveLow>,
        }
        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let $s = self;
                let trunk = Word::of($s.trunk);
                let (first, shared) = (trunk.is(1) & !$s.busy.asserted(), $shared);
                $wiring {
                    ring: $ring,
                    lamp: $lamp,
                    tone: $tone,
                    noted: on($s.clock.rises()).load($noted),
                    first: assert_while(first),
                    second: assert_while(trunk.is(2)),
                    bell: assert_while(shared(trunk, $s.busy.asserted()) & $s.call.asserted()),
                    gong: assert_while(shared(trunk, $s.busy.asserted()) & !$s.answer.asserted()),
                }
            }
        }
    };
}

fn either(trunk: Word<2>, busy: Assertion) -> Assertion {
    (trunk.is(1) & !busy) | trunk.is(2)
}

line!(
    Right,
    RightWiring,
    |s| assert_while(s.call.asserted() & !s.answer.asserted()),
    assert_while(s.call.asserted() | s.busy.asserted()),
    follow(s.trunk[0].level()),
    (s.call.asserted() & !s.noted.asserted()) | (!s.answer.asserted() & s.noted.asserted()),
    either
);

fn mends<C: Wiring>() -> Mends {
    let right = gluewright_kernel::circuit_of::<Right>().expect("it builds");
    match prove::<C>().against(&right).run() {
        Err(Failure::Refuted(r)) => r.mend(minute()),
        other => panic!("expected a refutation: {other:?}"),
    }
}

fn first(mends: &Mends) -> &str {
    mends.found.first().map_or_else(|| panic!("{mends}"), |mend| &mend.words)
}

#[test]
fn three_slips_of_different_contacts_are_mended_together() {
    line!(
        Three,
        ThreeWiring,
        |s| assert_while(s.call.asserted() & s.answer.asserted()),
        assert_while(s.call.asserted() & s.busy.asserted()),
        follow(s.trunk[1].level()),
        (s.call.asserted() & !s.noted.asserted()) | (!s.answer.asserted() & s.noted.asserted()),
        either
    );
    let mends = mends::<Three>();
    assert_eq!(first(&mends).matches(", and ").count(), 2, "{mends}");
    let agreement = mends.agreement.as_ref().expect("no single change mends it");
    assert_eq!(agreement.differ.len(), 3, "{mends}");
    assert!(agreement.parts.iter().any(|part| part.proved && part.contacts.len() == 1), "{mends}");
}

/// The dropped factor belongs to one of two places at which the bit stands.
#[test]
fn a_condition_that_is_missing_at_one_of_two_places_is_named() {
    line!(
        Dropped,
        DroppedWiring,
        |s| assert_while(s.call.asserted() & !s.answer.asserted()),
        assert_while(s.call.asserted() | s.busy.asserted()),
        follow(s.trunk[0].level()),
        (s.call.asserted() & !s.noted.asserted()) | s.noted.asserted(),
        either
    );
    let mends = mends::<Dropped>();
    assert!(first(&mends).contains("`noted`") && first(&mends).contains("`answer` is high"), "{mends}");
}

/// Gates that feed themselves, read twice by what drives them: each way round has as many reasons again.
#[test]
fn a_loop_is_explained_once_and_not_for_ever() {
    #[derive(Circuit)]
    #[rustfmt::skip]
    struct Set {
        #[contact(1)] set:  Input<ActiveLow>,
        #[contact(2)] rest: Input<ActiveLow>,
        #[contact(3)] lamp: Output<ActiveLow>,
    }
    impl Wiring for Set {
        fn wire(&self) -> SetWiring {
            SetWiring { lamp: assert_while(self.set.asserted() & !self.rest.asserted()) }
        }
    }
    #[derive(Circuit)]
    #[rustfmt::skip]
    struct Held {
        #[contact(1)] set:  Input<ActiveLow>,
        #[contact(2)] rest: Input<ActiveLow>,
        #[contact(3)] lamp: Output<ActiveLow>,
    }
    impl Wiring for Held {
        fn wire(&self) -> HeldWiring {
            let pressed = self.lamp.asserted();
            let held = (pressed | self.set.asserted()) & (pressed | !self.rest.asserted());
            HeldWiring { lamp: assert_while(held) }
        }
    }
    let set = gluewright_kernel::circuit_of::<Set>().expect("it builds");
    match prove::<Held>().against(&set).run() {
        Err(Failure::Refuted(r)) => assert!(!r.explain().probes.is_empty()),
        other => panic!("expected a refutation: {other:?}"),
    }
}
