//! Values that a wiring is made with: given around a build, and taken by the circuit's fields.
use std::any::{Any, TypeId};
use std::cell::RefCell;
use std::rc::Rc;

use super::Circuit;

thread_local! {
    /// What is given on this thread, the innermost last.
    static GIVEN: RefCell<Vec<Rc<dyn Any>>> = const { RefCell::new(Vec::new()) };
}

/// What was given stays so until this is dropped.
#[derive(Debug)]
pub(crate) struct Given(());

impl Drop for Given {
    fn drop(&mut self) {
        let _ = GIVEN.try_with(|given| given.borrow_mut().pop());
    }
}

/// Gives a circuit its parameters.
pub(crate) fn give<C: Circuit>(parameters: C::Parameters) -> Option<Given> {
    GIVEN.try_with(|given| given.borrow_mut().push(Rc::new(parameters))).ok().map(|()| Given(()))
}

/// The parameters that are given for a circuit, the innermost first.
pub(super) fn of<C: Circuit>() -> Option<C::Parameters> {
    let found = GIVEN
        .try_with(|given| given.borrow().iter().rev().find_map(|one| one.downcast_ref::<C::Parameters>().cloned()));
    found.ok().flatten()
}

/// Whether a circuit has all that its wiring needs.
pub(super) fn are_given<C: Circuit>() -> bool {
    TypeId::of::<C::Parameters>() == TypeId::of::<()>() || of::<C>().is_some()
}

#[cfg(test)]
mod tests {
    use crate::prelude::*;

    use crate::circuit::{Circuit as Built, Polarity};
    use crate::prove::Question;
    use crate::signals::{Turn, build, build_for};

    /// Divides its clock by any number up to sixteen.
    #[derive(Circuit)]
    #[contacts(clock: 1, q: 2..=5, carry: 6)]
    struct Divider {
        clock: Input<Clock>,
        q: [Output<Data>; 4],
        carry: Output<ActiveHigh>,
        /// After so many edges it begins again.
        #[parameter]
        count: u64,
    }

    impl Wiring for Divider {
        fn wire(&self) -> DividerWiring {
            let count = Word::of(self.q);
            let last = count.is(self.count - 1);
            let next = choose(last, Word::number(0), count.plus_one());
            DividerWiring {
                q: each(|i| on(self.clock.rises()).load(next.bits()[i]).starts_low()),
                carry: assert_while(last),
            }
        }
    }

    #[test]
    fn one_source_gives_a_circuit_for_each_value() {
        for count in 2..=16u64 {
            let circuit = build_for::<Divider>(DividerParameters { count }).expect("it is built");
            // what it divides by, counted from outside
            let mut bench = crate::bench::Bench::of_circuit(&circuit).expect("a bench");
            bench.set("clock", false).expect("an input");
            let mut seen = Vec::new();
            for _ in 0..2 * count {
                seen.push(bench.see_number("q").expect("an array").expect("driven"));
                bench.pulse("clock").expect("an input");
            }
            let expected: Vec<u64> = (0..count).chain(0..count).collect();
            assert_eq!(seen, expected, "by {count}");
            // it is itself, and no other
            let claim = || prove::<Divider>().with(DividerParameters { count });
            claim().against(&circuit).run().expect("itself");
            let other = build_for::<Divider>(DividerParameters { count: count % 16 + 1 }).expect("it is built");
            let refuted = claim().against(&other).run();
            assert!(matches!(refuted, Err(Failure::Refuted(_))), "by {count}: {refuted:?}");
            // and from its start it never goes beyond
            if count < 16 {
                let beyond = move |c: &Divider| never(Word::of(c.q).is(count));
                let held = claim().that(beyond).run();
                assert!(held.is_ok(), "by {count}: {held:?}");
            }
            let last = move |c: &Divider| never(Word::of(c.q).is(count - 1));
            let broken = claim().that(last).run();
            assert!(matches!(broken, Err(crate::prove::Broken::Refuted(_))), "by {count}: {broken:?}");
        }
    }

    #[test]
    fn without_its_parameters_a_circuit_is_one_mistake() {
        let refused = build::<Divider>().expect_err("nothing says by what it divides");
        assert_eq!(refused.mistakes().len(), 1, "{refused}");
        assert!(matches!(refused.mistakes(), [crate::signals::Mistake::NoParameters { .. }]), "{refused}");
        let original = build_for::<Divider>(DividerParameters { count: 3 }).expect("it is built");
        assert!(matches!(prove::<Divider>().against(&original).run(), Err(Failure::Refused(_))));
        // given to one build, they are gone after it
        assert!(build::<Divider>().is_err());
    }

    fn told_apart(a: &Built, b: &Built) -> bool {
        match Question::new(a.clone(), b.clone()).ask() {
            Ok(_) => false,
            Err(Failure::Refuted(_)) => true,
            Err(other) => panic!("{other}"),
        }
    }

    /// What mends a declared polarity builds the source again: the values must be there then too.
    #[test]
    fn a_source_is_built_again_with_the_same_values() {
        let circuit = |count| build_for::<Divider>(DividerParameters { count }).expect("it is built");
        let claim = prove::<Divider>().with(DividerParameters { count: 10 });
        let (replacement, question) = claim.question(&circuit(10)).expect("a question");
        let source = question.source().expect("it is written");
        let (again, places) = source.build().expect("the values are given again");
        assert!(!told_apart(&again, &replacement));
        assert!(told_apart(&again, &circuit(12)));
        let carry = places.iter().find(|place| place.turn == Turn::Polarity("carry", Polarity::ActiveHigh));
        let turned = source.turned(&[carry.expect("a declared polarity").turn]).expect("it is built");
        assert!(told_apart(&turned, &replacement));
        let declared = |c: &Built| c.contacts().iter().find(|c| c.name == "carry").map(|c| c.polarity);
        assert_eq!((declared(&turned), declared(&again)), (Some(Polarity::ActiveLow), Some(Polarity::ActiveHigh)));
    }
}
