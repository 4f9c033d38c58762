//! Which contacts are sampled, by how many registers, over how many stages: counted by hand on small cards.
#![allow(clippy::unwrap_used, reason = "cards and parts are those of this file")]
use gluewright::board::Board;
use gluewright::circuit::{Circuit as Wired, Label};
use gluewright::prelude::*;
use gluewright::synchronisers::{beside, sampled};
use gluewright_parts::ttl;

/// A telephone exchange's ring detector: two flip-flops of a 74LS74 in a row bring the bell signal into step with the clock.
fn two_stages() -> Wired {
    let mut rows = String::from("ref,part,pin,net\nJ1,contacts,14,VCC\nJ1,contacts,7,GND\n");
    for (label, net) in [(1, "clk"), (2, "bell"), (3, "ring")] {
        rows += &format!("J1,contacts,{label},{net}\n");
    }
    rows += "U1,74LS74,2,bell\nU1,74LS74,3,clk\nU1,74LS74,5,first\nU1,74LS74,12,first\nU1,74LS74,11,clk\nU1,74LS74,9,ring\n\
        U1,74LS74,1,VCC\nU1,74LS74,4,VCC\nU1,74LS74,10,VCC\nU1,74LS74,13,VCC\nU1,74LS74,14,VCC\nU1,74LS74,7,GND\n\
        U1,74LS74,others,open\n";
    Board::from_csv("ring.csv", rows, ttl()).unwrap().circuit().unwrap()
}

macro_rules! detectors {
    ($($name:ident { $($field:ident),* } $wire:expr;)+) => {$(
        #[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)] clk:  Input<Clock>,
            #[contact(2)] bell: Input<Data>,
            #[contact(3)] ring: Output<Data>,
            $($field: Buried<Register>,)*
        }

        impl Wiring for $name {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                let wire: fn(&$name) -> <$name as Circuit>::Wiring = $wire;
                wire(self)
            }
        }
    )+};
}

detectors! {
    One {} |s| OneWiring { ring: on(s.clk.rises()).load(s.bell.level()) };
    Two { first } |s| TwoWiring {
        first: on(s.clk.rises()).load(s.bell.level()),
        ring: on(s.clk.rises()).load(s.first.level()),
    };
    Forked { other } |s| ForkedWiring {
        other: on(s.clk.rises()).load(s.bell.level()),
        ring: on(s.clk.rises()).load(high_while(s.bell.level().is_high() & s.other.level().is_high())),
    };
    Early { first } |s| EarlyWiring {
        first: on(s.clk.rises()).load(s.bell.level()),
        ring: follow(s.first.level()),
    };
}

fn built<C: Wiring>() -> Wired {
    gluewright::circuit_of::<C>().unwrap()
}

#[test]
fn stages_are_counted_until_something_else_reads_one() {
    let count = |c: &Wired| {
        let all = sampled(c, &[]);
        assert_eq!(all.len(), 1, "{all:?}");
        assert_eq!((all[0].contact.label.as_str(), all[0].clock.label.as_str()), ("2", "1"));
        (all[0].by.len(), all[0].stages)
    };
    assert_eq!(count(&two_stages()), (1, 2));
    assert_eq!(count(&built::<Two>()), (1, 2));
    assert_eq!(count(&built::<One>()), (1, 1));
    assert_eq!(count(&built::<Early>()), (1, 1), "the first stage's output is a contact already");
    assert_eq!(count(&built::<Forked>()), (2, 1), "two registers may see different levels");
}

#[test]
fn the_replacement_stands_beside_the_original() {
    let original = sampled(&two_stages(), &[]);
    let said = |replacement: &Wired| {
        let pairs = beside(&original, &sampled(replacement, &[]));
        (pairs[0].is_worse, pairs[0].to_string())
    };
    let (worse, words) = said(&built::<Two>());
    assert!(!worse && words.ends_with("one register, 2 stages in a row, as in the original"), "{words}");
    let (worse, words) = said(&built::<One>());
    assert!(
        worse && words.contains("one stage; the original: one register, 2 stages in a row; MORE EXPOSED"),
        "{words}"
    );
    let (worse, words) = said(&built::<Forked>());
    assert!(worse && words.contains("2 registers, which may see different levels"), "{words}");
}

#[test]
fn a_declared_relation_is_no_sampling() {
    let related = [(Label::from(2), Label::from(1))];
    assert_eq!(sampled(&two_stages(), &related), []);
}
