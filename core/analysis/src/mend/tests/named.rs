//! A name that was given to a condition, which lost a part: the mend stands wherever the name did, and nowhere else.
use super::minute;
use crate::mend::{Mending, Mends, Work};
use gluewright_kernel::prelude::*;
use gluewright_kernel::prove::prove;

/// The wind chest of an organ: asked for, granted a clock later, and two valves.
macro_rules! chest {
    ($name:ident, $wiring:ident, |$s:ident| $ready:expr, $part:expr) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)] clock:  Input<Clock>,
            #[contact(2)] ask:    Input<ActiveLow>,
            #[contact(3)] full:   Input<ActiveHigh>,
            #[contact(4)] left:   Input<ActiveHigh>,
            #[contact(5)] right:  Input<ActiveHigh>,
            #[contact(6)] ready:  Output<ActiveHigh>,
            #[contact(7)] treble: Output<ActiveLow>,
            #[contact(8)] bass:   Output<ActiveLow>,
            granted: Buried<Register, ActiveHigh>,
        }

        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let $s = self;
                let ready = $ready;
                let part = $part(ready, self.full.asserted());
                $wiring {
                    granted: on(self.clock.rises()).load(self.ask.asserted()),
                    ready: assert_while(ready),
                    treble: assert_while(part & self.left.asserted()),
                    bass: assert_while(part & self.right.asserted()),
                }
            }
        }
    };
}

fn either(ready: Assertion, full: Assertion) -> Assertion {
    ready | full
}

fn ready_alone(ready: Assertion, _: Assertion) -> Assertion {
    ready
}

chest!(Right, RightWiring, |s| s.granted.asserted() & s.ask.asserted(), either);
chest!(NoAlternative, NoAlternativeWiring, |s| s.granted.asserted() & s.ask.asserted(), ready_alone);

#[test]
fn an_alternative_is_added_where_the_condition_is_a_part() {
    let mends = mends::<Right, NoAlternative>(minute());
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("the alternative that `full` is high is added, wherever"), "{mends}");
    assert!(first.words.contains("is a part of a condition"), "{mends}");
}

chest!(Granted, GrantedWiring, |s| s.granted.asserted() & s.ask.asserted(), ready_alone);
chest!(Asked, AskedWiring, |s| s.ask.asserted(), ready_alone);

#[test]
fn a_condition_is_added_where_something_is_driven_and_not_where_it_is_stored() {
    let mends = mends::<Granted, Asked>(minute());
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    assert!(first.words.contains("the condition that `granted` is high is added, wherever"), "{mends}");
    assert!(first.words.contains("is used in what is driven"), "{mends}");
}

chest!(Inverted, InvertedWiring, |s| s.granted.asserted() & s.ask.asserted(), inverted);

fn inverted(ready: Assertion, full: Assertion) -> Assertion {
    ready | !full
}

#[test]
fn more_work_than_the_usual_tries_more_and_says_what() {
    let [usual, more] = [1, 10].map(|times| mends::<Right, Inverted>(Work::times(times).within(minute())));
    assert!(!usual.found.is_empty() && usual.beyond().is_none(), "{usual}");
    assert!(more.found.len() >= usual.found.len() && more.edits > usual.edits, "{more}");
    assert_eq!(more.beyond.tried, more.edits + more.pairs - usual.edits, "{more}");
    let said = format!("With 10 times the usual work: {} changes less likely", more.beyond.tried);
    assert!(more.to_string().contains(&said), "{more}");
}

fn mends<R: Wiring, W: Wiring>(work: impl Into<Work>) -> Mends {
    let right = gluewright_kernel::circuit_of::<R>().expect("it builds");
    match prove::<W>().against(&right).run() {
        Err(Failure::Refuted(r)) => r.mend(work),
        other => panic!("expected a refutation: {other:?}"),
    }
}
