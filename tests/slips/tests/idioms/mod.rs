//! Slips in what is given to an idiom, and in a `^`: the source is built again with the condition the other way, or with another
//! operator.
use std::time::Duration;

use gluewright::board::Board;
use gluewright::idioms::{count_up, decoded, shift};
use gluewright::mend::{Mending, Mends, Work};
use gluewright::prelude::*;

/// The dial of a telephone exchange: pulses are counted while it is not held, and a lamp shows which half the number is in.
macro_rules! dial {
    ($name:ident, $wiring:ident, |$s:ident, $hold:ident, $preset:ident| $count:expr, $line:expr, $odd:expr, $kept:expr) => {
#[derive(Circuit)]
        #[rustfmt::skip]
        struct $name {
            #[contact(1)]       pulse:  Input<Clock>,
            #[contact(2)]       hold:   Input<ActiveHigh>,
            #[contact(3)]       preset: Input<ActiveLow>,
            #[contact(4..=7)]   first:  [Input<Data>; 4],
            #[contact(8..=11)]  count:  [Output<Data>; 4],
            #[contact(13..=16)] line:   [Output<ActiveLow>; 4],
            #[contact(17)]      odd:    Output<ActiveHigh>,
            kept: [Buried<Register>; 4],
            #[contact(18..=21)] shown:  [Output<Data>; 4],
        }

        impl Wiring for $name {
            fn wire(&self) -> $wiring {
                let $s = self;
                let ($hold, $preset) = (self.hold.asserted(), self.preset.asserted());
                let next = $count;
                let line: [Assertion; 4] = $line;
                let kept = $kept;
                $wiring {
                    count: each(|i| on(self.pulse.rises()).load(next[i])),
                    line: each(|i| assert_while(line[i])),
                    odd: assert_while($odd),
                    kept: each(|i| on(self.pulse.rises()).load(kept[i])),
                    shown: each(|i| follow(self.kept[i].q())),
                }
            }
        }
    };
}

macro_rules! counted {
    ($s:ident, $enabled:expr, $loaded:expr) => {
        count_up($s.count).enabled_while($enabled).loaded_while($loaded, Word::of($s.first)).next()
    };
}
macro_rules! lines {
    ($s:ident, $enabled:expr) => {
        decoded(Word::of([$s.first[0], $s.first[1]]), $enabled)
    };
}
macro_rules! kept {
    ($s:ident, $up:expr) => {
        shift($s.kept).up_while($up, $s.first[0].level()).next()
    };
}
macro_rules! odd {
    ($s:ident, $by:tt) => {
        $s.first[2].level().is_high() $by $s.first[3].level().is_high()
    };
}

dial!(Right, RightWiring, |s, hold, preset| counted!(s, !hold, preset), lines!(s, !hold), odd!(s, ^), kept!(s, preset));

/// What mends this against the right one, which comes first.
fn first_of<C: Wiring>() -> (Mends, Vec<String>) {
    let right = gluewright::circuit_of::<Right>().expect("it builds");
    let Err(Failure::Refuted(r)) = prove::<C>().against(&right).run() else { panic!("refuted") };
    let mends = r.mend(Duration::from_secs(60));
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    let words = std::iter::once(&first.words).chain(first.ways.iter().map(|way| &way.words)).cloned().collect();
    (mends, words)
}

#[track_caller]
fn says<C: Wiring>(words: &str) {
    let (mends, first) = first_of::<C>();
    assert!(first.iter().any(|w| w.contains(words)), "{words}: not first in {mends}");
}

#[test]
fn a_missing_inversion_of_what_an_idiom_takes_is_named_first() {
    dial!(
        Runs,
        RunsWiring,
        |s, hold, preset| counted!(s, hold, preset),
        lines!(s, !hold),
        odd!(s, ^),
        kept!(s, preset)
    );
    says::<Runs>("`hold`");
    dial!(
        Loads,
        LoadsWiring,
        |s, hold, preset| counted!(s, !hold, !preset),
        lines!(s, !hold),
        odd!(s, ^),
        kept!(s, preset)
    );
    says::<Loads>("`preset`");
    dial!(
        Lines,
        LinesWiring,
        |s, hold, preset| counted!(s, !hold, preset),
        lines!(s, hold),
        odd!(s, ^),
        kept!(s, preset)
    );
    says::<Lines>("`hold`");
    dial!(
        Shifts,
        ShiftsWiring,
        |s, hold, preset| counted!(s, !hold, preset),
        lines!(s, !hold),
        odd!(s, ^),
        kept!(s, !preset)
    );
    says::<Shifts>("`preset`");
}

/// A dial that counts while it is not held, and one that counts while it is; no macro, so each word has a place of its own.
#[derive(Circuit)]
#[rustfmt::skip]
struct Free {
    #[contact(1)]     pulse: Input<Clock>,
    #[contact(2)]     hold:  Input<ActiveHigh>,
    #[contact(3..=6)] count: [Output<Data>; 4],
}

impl Wiring for Free {
    fn wire(&self) -> FreeWiring {
        let next = count_up(self.count).enabled_while(!self.hold.asserted()).next();
        FreeWiring { count: each(|i| on(self.pulse.rises()).load(next[i])) }
    }
}

#[derive(Circuit)]
#[rustfmt::skip]
struct Held {
    #[contact(1)]     pulse: Input<Clock>,
    #[contact(2)]     hold:  Input<ActiveHigh>,
    #[contact(3..=6)] count: [Output<Data>; 4],
}

impl Wiring for Held {
    fn wire(&self) -> HeldWiring {
        let hold = self.hold.asserted();
        let next = count_up(self.count).enabled_while(hold).next();
        HeldWiring { count: each(|i| on(self.pulse.rises()).load(next[i])) }
    }
}

/// The source has a place where the condition is given, and with it inverted it builds the right circuit.
#[test]
fn a_condition_is_inverted_where_it_is_given() {
    let free = gluewright::circuit_of::<Free>().expect("it builds");
    let Err(Failure::Refuted(r)) = prove::<Held>().against(&free).run() else { panic!("refuted") };
    // more than the usual work goes on to the words of the source, although the circuit has a mend of the same effect
    let mends = r.mend(Work::times(2).within(Duration::from_secs(60)));
    let first = mends.found.first().unwrap_or_else(|| panic!("{mends}"));
    let said = |way: &&gluewright::mend::Way| way.words == "`hold` is low instead of high, where it is written";
    let lines: std::collections::BTreeSet<String> =
        first.ways.iter().filter(said).map(|way| way.origin.to_string()).collect();
    // where the condition is said, and where it is given
    assert_eq!(lines.len(), 2, "{mends}");
}

#[test]
fn an_operator_that_is_another_is_named_whichever_it_is() {
    dial!(
        Either,
        EitherWiring,
        |s, hold, preset| counted!(s, !hold, preset),
        lines!(s, !hold),
        odd!(s, |),
        kept!(s, preset)
    );
    says::<Either>("*exclusive or* instead of *or* stands between");
    dial!(
        Both,
        BothWiring,
        |s, hold, preset| counted!(s, !hold, preset),
        lines!(s, !hold),
        odd!(s, &),
        kept!(s, preset)
    );
    says::<Both>("*exclusive or* instead of *and* stands between");
}

/// The stop light of a loom, whose warp and weft feelers differ or not.
#[derive(Circuit)]
#[rustfmt::skip]
struct Feelers {
    #[contact(1)] warp: Input<Data>,
    #[contact(2)] weft: Input<Data>,
    #[contact(3)] stop: Output<ActiveHigh>,
    #[contact(4)] seen: Output<Data>,
}

impl Wiring for Feelers {
    fn wire(&self) -> FeelersWiring {
        FeelersWiring {
            stop: assert_while(self.warp.level().is_high() ^ self.weft.level().is_high()),
            seen: follow(self.warp.level()),
        }
    }
}

fn feelers(gate: &str, pins: [&str; 4]) -> Board {
    let [warp, weft, stop, seen] = pins;
    Board::builder("feelers")
        .contacts("J1", [(1, warp), (2, weft), (3, stop), (4, seen), (5, "VCC"), (6, "GND")])
        .chip("U1", gate, [(1, "warp"), (2, "weft"), (3, "stop"), (14, "VCC"), (7, "GND")])
        .chip("U2", "74LS08", [(1, "warp"), (2, "warp"), (3, "seen"), (14, "VCC"), (7, "GND")])
        .finish(gluewright_parts::ttl())
        .expect("sound")
}

/// The other way round: the original joins by *or* or *and* what the source says with `^`.
#[test]
fn an_exclusive_or_in_the_place_of_another_operator_is_named() {
    for (gate, words) in [("74LS32", "*or* instead of"), ("74LS08", "*and* instead of")] {
        let card = feelers(gate, ["warp", "weft", "stop", "seen"]);
        let Err(Failure::Refuted(r)) = prove::<Feelers>().against(&card).run() else { panic!("refuted") };
        let mends = r.mend(Duration::from_secs(60));
        assert!(mends.found.iter().any(|m| m.words.contains(words)), "{gate}: {mends}");
    }
}

/// The numbers of two contacts are each other's: of an output and an input, and of two outputs.
#[test]
fn contacts_exchanged_are_named_whichever_way_they_go() {
    for (pins, words) in [
        (["stop", "weft", "warp", "seen"], "contacts 1 `warp` and 3 `stop` are exchanged"),
        (["warp", "weft", "seen", "stop"], "contacts 3 `stop` and 4 `seen` are exchanged"),
    ] {
        let card = feelers("74LS86", pins);
        let Err(Failure::Refuted(r)) = prove::<Feelers>().against(&card).run() else { panic!("refuted") };
        let mends = r.mend(Duration::from_secs(60));
        assert!(mends.found.first().is_some_and(|m| m.words == words), "{words}: {mends}");
    }
}
