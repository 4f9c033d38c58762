//! Each idiom is proved against the TTL type that does the same, and with a slip in it refuted.
#![allow(clippy::expect_used, clippy::panic, clippy::unwrap_used, reason = "a check stops at what it did not expect")]
use gluewright::board::Board;
use gluewright::idioms::*;
use gluewright::prelude::*;
use gluewright::prove::Claim;

/// A circuit on a part's pins, and the same with a slip.
macro_rules! idiom {
    ($right:ident, $slip:ident { $($fields:tt)* } $this:ident => $is:expr, not $is_not:expr) => {
        idiom!(@ $right { $($fields)* } $this $is);
        idiom!(@ $slip { $($fields)* } $this $is_not);
    };
    (@ $name:ident { $($fields:tt)* } $this:ident $is:expr) => {
        #[derive(Circuit)]
        struct $name { $($fields)* }

        impl Wiring for $name {
            fn wire(&$this) -> <Self as Circuit>::Wiring {
                #[allow(dead_code)]
                type Filled = <$name as Circuit>::Wiring;
                $is
            }
        }
    };
}

/// The right one is proved, the other one refuted.
fn holds_and_slips<R: Wiring, S: Wiring>(part: &str, right: fn(Claim<R>) -> Claim<R>, slip: fn(Claim<S>) -> Claim<S>) {
    let original =
        gluewright_parts::ttl().find(part).ok().and_then(|found| found.kind.logic()).expect("a part with logic");
    if let Err(failure) = right(prove::<R>()).against(original.as_ref()).run() {
        panic!("{part}: {failure}");
    }
    match slip(prove::<S>()).against(original.as_ref()).run() {
        Err(Failure::Refuted(_)) => {}
        other => panic!("{part}: the slip is not refuted: {other:?}"),
    }
}

/// The same of a board.
fn holds_and_slips_on<R: Wiring, S: Wiring>(original: &Board) {
    if let Err(failure) = prove::<R>().against(original).run() {
        panic!("{failure}");
    }
    match prove::<S>().against(original).run() {
        Err(Failure::Refuted(_)) => {}
        other => panic!("the slip is not refuted: {other:?}"),
    }
}

/// A board of these packages, each as `type,pin=net,…`, whose contacts 1 onwards are these nets. Pins that are not named
/// are open.
fn board(packages: &str, contacts: &[&str]) -> Board {
    let mut sheet = String::from("ref,part,pin,net\n");
    for (label, net) in (1..).zip(contacts) {
        sheet.push_str(&format!("J1,contacts,{label},{net}\n"));
    }
    for (number, package) in (1..).zip(packages.lines()) {
        let (part, pins) = package.trim().split_once(',').expect("a type and its pins");
        for pin in pins.split(',') {
            let (pin, net) = pin.split_once('=').expect("a pin and its net");
            sheet.push_str(&format!("U{number},{part},{pin},{net}\n"));
        }
        sheet.push_str(&format!("U{number},{part},others,open\n"));
    }
    Board::from_csv("idiom.csv", sheet, gluewright_parts::ttl()).expect("a sound board")
}

fn by_itself<C: Wiring>(claim: Claim<C>) -> Claim<C> {
    claim
}

idiom! {
    Up, UpWithoutT {
        #[contact(1)] clr: Input<ActiveLow>,
        #[contact(2)] clk: Input<Clock>,
        #[contact(3..=6)] abcd: [Input<Data>; 4],
        #[contact(7)] enp: Input<ActiveHigh>,
        #[contact(10)] ent: Input<ActiveHigh>,
        #[contact(9)] load: Input<ActiveLow>,
        #[contact(14..=11)] q: [Output<Data>; 4],
        #[contact(15)] rco: Output<ActiveHigh>,
    }
    self => {
        let counter = count_up(self.q)
            .enabled_while(self.enp.asserted())
            .enabled_while(self.ent.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    },
    not {
        let counter = count_up(self.q)
            .enabled_while(self.enp.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    }
}

#[test]
fn a_counter_that_is_cleared_at_once_is_a_74161() {
    holds_and_slips::<Up, UpWithoutT>("74LS161", by_itself, by_itself);
}

idiom! {
    UpClearedOnClock, UpClearedWhileEnabled {
        #[contact(1)] clr: Input<ActiveLow>,
        #[contact(2)] clk: Input<Clock>,
        #[contact(3..=6)] abcd: [Input<Data>; 4],
        #[contact(7)] enp: Input<ActiveHigh>,
        #[contact(10)] ent: Input<ActiveHigh>,
        #[contact(9)] load: Input<ActiveLow>,
        #[contact(14..=11)] q: [Output<Data>; 4],
        #[contact(15)] rco: Output<ActiveHigh>,
    }
    self => {
        // a clear before the load comes first all the same
        let counter = count_up(self.q)
            .cleared_while(self.clr.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd))
            .enabled_while(self.enp.asserted() & self.ent.asserted());
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i])),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    },
    not {
        let enabled = self.enp.asserted() & self.ent.asserted();
        let counter = count_up(self.q)
            .cleared_while(self.clr.asserted() & enabled)
            .loaded_while(self.load.asserted(), Word::of(self.abcd))
            .enabled_while(enabled);
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i])),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    }
}

#[test]
fn a_counter_that_is_cleared_on_the_clock_is_a_74163() {
    holds_and_slips::<UpClearedOnClock, UpClearedWhileEnabled>("74LS163", by_itself, by_itself);
}

idiom! {
    Decade, Dozen {
        #[contact(1)]
        clear: Input<ActiveLow>,
        #[contact(2)]
        clk: Input<Clock>,
        #[contact(3)]
        enabled: Input<ActiveHigh>,
        #[contact(4..=7)]
        q: [Output<Data>; 4],
        #[contact(8)]
        carry: Output<ActiveHigh>,
    }
    self => {
        let counter = count_up(self.q).through(9).enabled_while(self.enabled.asserted());
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clear.asserted()).starts_low()),
            carry: assert_while(self.enabled.asserted() & counter.is_at_its_end()),
        }
    },
    not {
        let counter = count_up(self.q).through(11).enabled_while(self.enabled.asserted());
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clear.asserted()).starts_low()),
            carry: assert_while(self.enabled.asserted() & counter.is_at_its_end()),
        }
    }
}

/// What a decade counter makes of 10 to 15 is its own; nobody loads them here, and the replacement starts with 0.
#[test]
fn a_counter_through_nine_is_a_74160() {
    holds_and_slips_on::<Decade, Dozen>(&board(
        "74LS160,1=clear,2=clk,3=GND,4=GND,5=GND,6=GND,7=enabled,9=VCC,10=enabled,14=q0,13=q1,12=q2,11=q3,15=carry,16=VCC,8=GND",
        &["clear", "clk", "enabled", "q0", "q1", "q2", "q3", "carry"],
    ));
}

idiom! {
    TtlDecade, PlainDecade {
        #[contact(1)] clear: Input<ActiveLow>,
        #[contact(2)] clk: Input<Clock>,
        #[contact(3..=6)] abcd: [Input<Data>; 4],
        #[contact(7)] enp: Input<ActiveHigh>,
        #[contact(10)] ent: Input<ActiveHigh>,
        #[contact(9)] load: Input<ActiveLow>,
        #[contact(14..=11)] q: [Output<Data>; 4],
        #[contact(15)] rco: Output<ActiveHigh>,
    }
    self => {
        let counter = count_up(self.q)
            .in_decades()
            .enabled_while(self.enp.asserted() & self.ent.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clear.asserted())),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    },
    not {
        let counter = count_up(self.q)
            .through(9)
            .enabled_while(self.enp.asserted() & self.ent.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clear.asserted())),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    }
}

#[test]
fn a_decade_that_is_loaded_with_ten_is_a_74160() {
    holds_and_slips::<TtlDecade, PlainDecade>("74LS160", by_itself, by_itself);
}

idiom! {
    UpOrDown, DownOrUp {
        #[contact(1)] ud: Input<Data>,
        #[contact(2)] clk: Input<Clock>,
        #[contact(3..=6)] abcd: [Input<Data>; 4],
        #[contact(7)] enp: Input<ActiveLow>,
        #[contact(10)] ent: Input<ActiveLow>,
        #[contact(9)] load: Input<ActiveLow>,
        #[contact(14..=11)] q: [Output<Data>; 4],
        #[contact(15)] rco: Output<ActiveLow>,
    }
    self => {
        let counter = count_up_or_down(self.q, self.ud.level().is_high())
            .enabled_while(self.enp.asserted() & self.ent.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i])),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    },
    not {
        let counter = count_up_or_down(self.q, self.ud.level().is_low())
            .enabled_while(self.enp.asserted() & self.ent.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.abcd));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i])),
            rco: assert_while(self.ent.asserted() & counter.is_at_its_end()),
        }
    }
}

#[test]
fn a_counter_of_both_ways_is_a_74169() {
    holds_and_slips::<UpOrDown, DownOrUp>("74LS169", by_itself, by_itself);
}

idiom! {
    Down, DownFromSeven {
        #[contact(1)] clk: Input<Clock>,
        #[contact(2)] enabled: Input<ActiveLow>,
        #[contact(3)] load: Input<ActiveLow>,
        #[contact(4..=7)] start: [Input<Data>; 4],
        #[contact(8..=11)] q: [Output<Data>; 4],
        #[contact(12)] borrow: Output<ActiveLow>,
    }
    self => {
        let counter = count_down(self.q)
            .enabled_while(self.enabled.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.start));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i])),
            borrow: assert_while(self.enabled.asserted() & counter.is_at_its_end()),
        }
    },
    not {
        let counter = count_down(self.q)
            .through(7)
            .enabled_while(self.enabled.asserted())
            .loaded_while(self.load.asserted(), Word::of(self.start));
        let next = counter.next();
        Filled {
            q: each(|i| on(self.clk.rises()).load(next[i])),
            borrow: assert_while(self.enabled.asserted() & counter.is_at_its_end()),
        }
    }
}

/// Pin 1, which says up or down, is tied to ground.
#[test]
fn a_counter_that_goes_down_is_a_74169_that_is_told_so() {
    holds_and_slips_on::<Down, DownFromSeven>(&board(
        "74LS169,1=GND,2=clk,3=s0,4=s1,5=s2,6=s3,7=GND,10=en,9=load,14=q0,13=q1,12=q2,11=q3,15=borrow,16=VCC,8=GND",
        &["clk", "en", "load", "s0", "s1", "s2", "s3", "q0", "q1", "q2", "q3", "borrow"],
    ));
}

idiom! {
    BothWays, BothWaysTurned {
        #[contact(1)] clr: Input<ActiveLow>,
        #[contact(2)] sr: Input<Data>,
        #[contact(3..=6)] abcd: [Input<Data>; 4],
        #[contact(7)] sl: Input<Data>,
        #[contact(9, 10)] s: [Input<Data>; 2],
        #[contact(11)] clk: Input<Clock>,
        #[contact(15..=12)] q: [Output<Data>; 4],
    }
    self => {
        let mode = Word::of(self.s);
        let next = shift(self.q)
            .up_while(mode.is(1), self.sr.level())
            .down_while(mode.is(2), self.sl.level())
            .loaded_while(mode.is(3), Word::of(self.abcd))
            .next();
        Filled { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    },
    not {
        let mode = Word::of(self.s);
        let next = shift(self.q)
            .up_while(mode.is(2), self.sr.level())
            .down_while(mode.is(1), self.sl.level())
            .loaded_while(mode.is(3), Word::of(self.abcd))
            .next();
        Filled { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    }
}

#[test]
fn a_shift_register_of_both_ways_is_a_74194() {
    holds_and_slips::<BothWays, BothWaysTurned>("74LS194", by_itself, by_itself);
}

idiom! {
    Serial, SerialEither {
        #[contact(1, 2)] ab: [Input<Data>; 2],
        #[contact(8)] clk: Input<Clock>,
        #[contact(9)] clr: Input<ActiveLow>,
        #[contact(3..=6, 10..=13)] q: [Output<Data>; 8],
    }
    self => {
        let into = high_while(self.ab[0].level().is_high() & self.ab[1].level().is_high());
        let next = shift(self.q).up_while(Assertion::ALWAYS, into).next();
        Filled { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    },
    not {
        let into = high_while(self.ab[0].level().is_high() | self.ab[1].level().is_high());
        let next = shift(self.q).up_while(Assertion::ALWAYS, into).next();
        Filled { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    }
}

#[test]
fn a_shift_register_of_one_way_is_a_74164() {
    holds_and_slips::<Serial, SerialEither>("74LS164", by_itself, by_itself);
}

idiom! {
    Lines, LinesAlways {
        #[contact(1, 2, 3)] abc: [Input<Data>; 3],
        #[contact(4)] g2a: Input<ActiveLow>,
        #[contact(5)] g2b: Input<ActiveLow>,
        #[contact(6)] g1: Input<ActiveHigh>,
        #[contact(15..=9, 7)] y: [Output<ActiveLow>; 8],
    }
    self => {
        let enabled = self.g1.asserted() & self.g2a.asserted() & self.g2b.asserted();
        let lines: [Assertion; 8] = decoded(Word::of(self.abc), enabled);
        Filled { y: lines.map(assert_while) }
    },
    not {
        let lines: [Assertion; 8] = decoded(Word::of(self.abc), self.g1.asserted() & self.g2a.asserted());
        Filled { y: lines.map(assert_while) }
    }
}

#[test]
fn a_decoder_is_a_74138() {
    holds_and_slips::<Lines, LinesAlways>("74LS138", by_itself, by_itself);
}

idiom! {
    Digits, DigitsTurned {
        #[contact(15..=12)] abcd: [Input<Data>; 4],
        #[contact(1..=7, 9..=11)] y: [Output<ActiveLow>; 10],
    }
    self => {
        let lines: [Assertion; 10] = decoded(Word::of(self.abcd), Assertion::ALWAYS);
        Filled { y: lines.map(assert_while) }
    },
    not {
        let lines: [Assertion; 10] = decoded(Word::of(self.abcd).reversed(), Assertion::ALWAYS);
        Filled { y: lines.map(assert_while) }
    }
}

#[test]
fn a_decoder_of_ten_lines_is_a_7442() {
    holds_and_slips::<Digits, DigitsTurned>("74LS42", by_itself, by_itself);
}

idiom! {
    Highest, Lowest {
        #[contact(10..=13, 1..=4)] i: [Input<ActiveLow>; 8],
        #[contact(5)] ei: Input<ActiveLow>,
        #[contact(9, 7, 6)] a: [Output<ActiveLow>; 3],
        #[contact(14)] gs: Output<ActiveLow>,
        #[contact(15)] eo: Output<ActiveLow>,
    }
    self => {
        let enabled = self.ei.asserted();
        let (number, any): (Word<3>, _) = highest(self.i.map(|i| i.asserted()));
        Filled {
            a: each(|bit| assert_while(enabled & number[bit].is_high())),
            gs: assert_while(enabled & any),
            eo: assert_while(enabled & !any),
        }
    },
    not {
        let enabled = self.ei.asserted();
        let (number, any): (Word<3>, _) = lowest(self.i.map(|i| i.asserted()));
        Filled {
            a: each(|bit| assert_while(enabled & number[bit].is_high())),
            gs: assert_while(enabled & any),
            eo: assert_while(enabled & !any),
        }
    }
}

#[test]
fn a_priority_encoder_is_a_74148() {
    holds_and_slips::<Highest, Lowest>("74LS148", by_itself, by_itself);
}

idiom! {
    LowestOfTurned, LowestOfStraight {
        #[contact(10..=13, 1..=4)] i: [Input<ActiveLow>; 8],
        #[contact(5)] ei: Input<ActiveLow>,
        #[contact(9, 7, 6)] a: [Output<ActiveLow>; 3],
        #[contact(14)] gs: Output<ActiveLow>,
        #[contact(15)] eo: Output<ActiveLow>,
    }
    self => {
        // the lowest of the lines in the other order is 7 less the highest: its inverse
        let enabled = self.ei.asserted();
        let mut turned = self.i.map(|i| i.asserted());
        turned.reverse();
        let (number, any): (Word<3>, _) = lowest(turned);
        Filled {
            a: each(|bit| assert_while(enabled & any & number[bit].is_low())),
            gs: assert_while(enabled & any),
            eo: assert_while(enabled & !any),
        }
    },
    not {
        let enabled = self.ei.asserted();
        let (number, any): (Word<3>, _) = lowest(self.i.map(|i| i.asserted()));
        Filled {
            a: each(|bit| assert_while(enabled & any & number[bit].is_low())),
            gs: assert_while(enabled & any),
            eo: assert_while(enabled & !any),
        }
    }
}

#[test]
fn a_priority_encoder_of_the_lowest_is_a_74148_of_the_lines_in_the_other_order() {
    holds_and_slips::<LowestOfTurned, LowestOfStraight>("74LS148", by_itself, by_itself);
}

idiom! {
    OneOfTwo, TheOtherOfTwo {
        #[contact(1)] select: Input<Data>,
        #[contact(15)] strobe: Input<ActiveLow>,
        #[contact(2, 5, 11, 14)] a: [Input<Data>; 4],
        #[contact(3, 6, 10, 13)] b: [Input<Data>; 4],
        #[contact(4, 7, 9, 12)] y: [Output<Data>; 4],
    }
    self => {
        let chosen = choose(self.select.level().is_high(), Word::of(self.b), Word::of(self.a));
        let shown = choose(self.strobe.asserted(), chosen, Word::number(0));
        Filled { y: each(|i| follow(shown[i])) }
    },
    not {
        let chosen = choose(self.select.level().is_high(), Word::of(self.a), Word::of(self.b));
        let shown = choose(self.strobe.asserted(), chosen, Word::number(0));
        Filled { y: each(|i| follow(shown[i])) }
    }
}

#[test]
fn a_multiplexer_of_words_is_a_74157() {
    holds_and_slips::<OneOfTwo, TheOtherOfTwo>("74LS157", by_itself, by_itself);
}

idiom! {
    OneOfEight, OneOfEightTurned {
        #[contact(4..=1, 15..=12)] d: [Input<Data>; 8],
        #[contact(11..=9)] abc: [Input<Data>; 3],
        #[contact(7)] strobe: Input<ActiveLow>,
        #[contact(5)] y: Output<Data>,
        #[contact(6)] w: Output<Data>,
    }
    self => {
        let chosen = Word::of(self.abc).pick(self.d.map(|d| d.level())).is_high() & self.strobe.asserted();
        Filled { y: follow(high_while(chosen)), w: follow(low_while(chosen)) }
    },
    not {
        let chosen = Word::of(self.abc).reversed().pick(self.d.map(|d| d.level())).is_high() & self.strobe.asserted();
        Filled { y: follow(high_while(chosen)), w: follow(low_while(chosen)) }
    }
}

#[test]
fn a_multiplexer_of_eight_levels_is_a_74151() {
    holds_and_slips::<OneOfEight, OneOfEightTurned>("74LS151", by_itself, by_itself);
}

idiom! {
    Cascaded, CascadedTheOtherWay {
        #[contact(10, 12, 13, 15)] a: [Input<Data>; 4],
        #[contact(9, 11, 14, 1)] b: [Input<Data>; 4],
        #[contact(2)] less_in: Input<ActiveHigh>,
        #[contact(3)] equal_in: Input<ActiveHigh>,
        #[contact(4)] greater_in: Input<ActiveHigh>,
        #[contact(7)] less: Output<ActiveHigh>,
        #[contact(6)] equal: Output<ActiveHigh>,
        #[contact(5)] greater: Output<ActiveHigh>,
    }
    self => {
        let below = Compared {
            less: self.less_in.asserted(),
            equal: self.equal_in.asserted(),
            greater: self.greater_in.asserted(),
        };
        let how = compared(Word::of(self.a), Word::of(self.b)).then(below);
        Filled { less: assert_while(how.less), equal: assert_while(how.equal), greater: assert_while(how.greater) }
    },
    not {
        let below = Compared {
            less: self.less_in.asserted(),
            equal: self.equal_in.asserted(),
            greater: self.greater_in.asserted(),
        };
        let how = below.then(compared(Word::of(self.a), Word::of(self.b)));
        Filled { less: assert_while(how.less), equal: assert_while(how.equal), greater: assert_while(how.greater) }
    }
}

/// One of the three inputs from the lower digit is high, as the outputs of another one are.
#[test]
fn comparators_in_a_row_are_7485s() {
    holds_and_slips::<Cascaded, CascadedTheOtherWay>(
        "74LS85",
        |claim| claim.one_high([2u16, 3, 4]),
        |claim| claim.one_high([2u16, 3, 4]),
    );
}

idiom! {
    Same, SameOfSeven {
        #[contact(1)] g: Input<ActiveLow>,
        #[contact(2, 4, 6, 8, 11, 13, 15, 17)] p: [Input<Data>; 8],
        #[contact(3, 5, 7, 9, 12, 14, 16, 18)] q: [Input<Data>; 8],
        #[contact(19)] same: Output<ActiveLow>,
    }
    self => Filled { same: assert_while(self.g.asserted() & Word::of(self.p).equals(Word::of(self.q))) },
    not {
        let (mut p, q) = (self.p.map(|p| p.level()), self.q.map(|q| q.level()));
        p[7] = q[7];
        Filled { same: assert_while(self.g.asserted() & Word::of(p).equals(Word::of(q))) }
    }
}

#[test]
fn a_comparator_of_bytes_is_a_74688() {
    holds_and_slips::<Same, SameOfSeven>("74LS688", by_itself, by_itself);
}

idiom! {
    Sum, SumWithoutCarry {
        #[contact(5, 3, 14, 12)] a: [Input<Data>; 4],
        #[contact(6, 2, 15, 11)] b: [Input<Data>; 4],
        #[contact(7)] carry_in: Input<Data>,
        #[contact(4, 1, 13, 10)] sum: [Output<Data>; 4],
        #[contact(9)] carry: Output<Data>,
    }
    self => {
        let (sum, carry) = Word::of(self.a).plus_with_carry(Word::of(self.b), self.carry_in.level().is_high());
        Filled { sum: each(|i| follow(sum[i])), carry: follow(high_while(carry)) }
    },
    not {
        let (sum, carry) = Word::of(self.a).plus_with_carry(Word::of(self.b), Assertion::NEVER);
        Filled { sum: each(|i| follow(sum[i])), carry: follow(high_while(carry)) }
    }
}

#[test]
fn an_adder_is_a_74283() {
    holds_and_slips::<Sum, SumWithoutCarry>("74LS283", by_itself, by_itself);
}

idiom! {
    Parity, ParityTurned {
        #[contact(8..=13, 1, 2, 4)] bits: [Input<Data>; 9],
        #[contact(5)] even: Output<Data>,
        #[contact(6)] odd: Output<Data>,
    }
    self => {
        let is_odd = Word::of(self.bits).has_odd_parity();
        Filled { even: follow(low_while(is_odd)), odd: follow(high_while(is_odd)) }
    },
    not {
        let is_odd = Word::of(self.bits).has_odd_parity();
        Filled { even: follow(high_while(is_odd)), odd: follow(low_while(is_odd)) }
    }
}

#[test]
fn parity_is_a_74280() {
    holds_and_slips::<Parity, ParityTurned>("74LS280", by_itself, by_itself);
}

idiom! {
    Edge, EdgeThatFell {
        #[contact(1)] clk: Input<Clock>,
        #[contact(2)] key: Input<Data>,
        #[contact(3)] pressed: Output<ActiveHigh>,
        taken: [Buried<Register>; 2],
        before: Buried<Register>,
    }
    self => {
        let clock = self.clk.rises();
        Filled {
            taken: synchroniser(clock, self.key.level(), self.taken),
            before: on(clock).load(self.taken[1].q()),
            pressed: assert_while(rose(self.taken[1], self.before)),
        }
    },
    not {
        let clock = self.clk.rises();
        Filled {
            taken: synchroniser(clock, self.key.level(), self.taken),
            before: on(clock).load(self.taken[1].q()),
            pressed: assert_while(fell(self.taken[1], self.before)),
        }
    }
}

#[test]
fn an_edge_behind_a_synchroniser_is_two_7474s_and_an_and_gate() {
    holds_and_slips_on::<Edge, EdgeThatFell>(&board(
        "74LS74,1=VCC,2=key,3=clk,4=VCC,5=first,13=VCC,12=first,11=clk,10=VCC,9=second,14=VCC,7=GND
         74LS74,1=VCC,2=second,3=clk,4=VCC,6=before_n,14=VCC,7=GND
         74LS08,1=second,2=before_n,3=pressed,14=VCC,7=GND",
        &["clk", "key", "pressed"],
    ));
}

idiom! {
    Changed, ChangedLate {
        #[contact(1)] clk: Input<Clock>,
        #[contact(2)] key: Input<Data>,
        #[contact(3)] moved: Output<ActiveHigh>,
        taken: [Buried<Register>; 3],
    }
    self => Filled {
        taken: synchroniser(self.clk.rises(), self.key.level(), self.taken),
        moved: assert_while(changed(self.taken[1], self.taken[2])),
    },
    not Filled {
        taken: synchroniser(self.clk.rises(), self.key.level(), self.taken),
        moved: assert_while(changed(self.taken[0], self.taken[1])),
    }
}

#[test]
fn a_change_behind_a_synchroniser_is_a_74175_and_an_exclusive_or_gate() {
    holds_and_slips_on::<Changed, ChangedLate>(&board(
        "74LS175,1=VCC,9=clk,4=key,2=first,5=first,7=second,12=second,10=third,13=GND,16=VCC,8=GND
         74LS86,1=second,2=third,3=moved,14=VCC,7=GND",
        &["clk", "key", "moved"],
    ));
}

idiom! {
    SetFirst, SetFirstSlip {
        #[contact(1)] set: Input<ActiveLow>,
        #[contact(2)] reset: Input<ActiveLow>,
        #[contact(3)] q: Output<ActiveHigh>,
    }
    self => Filled { q: assert_while(set_wins(self.set.asserted(), self.reset.asserted(), self.q.asserted())) },
    not Filled { q: assert_while(reset_wins(self.set.asserted(), self.reset.asserted(), self.q.asserted())) }
}

#[test]
fn a_latch_that_sets_first_is_a_74279() {
    holds_and_slips_on::<SetFirst, SetFirstSlip>(&board(
        "74LS279,14=reset,15=set,13=q,16=VCC,8=GND",
        &["set", "reset", "q"],
    ));
}

idiom! {
    ResetFirst, ResetFirstSlip {
        #[contact(1)] set: Input<ActiveHigh>,
        #[contact(2)] reset: Input<ActiveHigh>,
        #[contact(3)] q: Output<ActiveHigh>,
    }
    self => Filled { q: assert_while(reset_wins(self.set.asserted(), self.reset.asserted(), self.q.asserted())) },
    not Filled { q: assert_while(set_wins(self.set.asserted(), self.reset.asserted(), self.q.asserted())) }
}

#[test]
fn a_latch_that_resets_first_is_two_gates_of_a_7402() {
    holds_and_slips_on::<ResetFirst, ResetFirstSlip>(&board(
        "74LS02,2=reset,3=q_n,1=q,5=set,6=q,4=q_n,14=VCC,7=GND",
        &["set", "reset", "q"],
    ));
}

idiom! {
    Followed, FollowedWhileClosed {
        #[contact(1)] oe: Input<ActiveLow>,
        #[contact(11)] le: Input<ActiveHigh>,
        #[contact(3, 4, 7, 8, 13, 14, 17, 18)] d: [Input<Data>; 8],
        #[contact(2, 5, 6, 9, 12, 15, 16, 19)] q: [Output<Data, ThreeState>; 8],
        held: [Buried<Node>; 8],
    }
    self => Filled {
        held: each(|i| follow(follow_while(self.le.asserted(), self.d[i].level(), self.held[i].level()))),
        q: each(|i| follow(self.held[i].level()).drive_while(self.oe.asserted())),
    },
    not Filled {
        held: each(|i| follow(follow_while(!self.le.asserted(), self.d[i].level(), self.held[i].level()))),
        q: each(|i| follow(self.held[i].level()).drive_while(self.oe.asserted())),
    }
}

#[test]
fn a_latch_of_product_terms_is_a_74373() {
    holds_and_slips::<Followed, FollowedWhileClosed>("74LS373", by_itself, by_itself);
}
