//! Counters whose flip-flops share one clock.
use gluewright::prelude::*;

use super::{Model, cleared_at_once, cleared_on_clock, load_while};

/// Counters that load, and may clear, on the clock: pins are the same for all of them.
macro_rules! counters {
    ($($(#[$doc:meta])* $part:ident $type:tt: $up:ident, last $last:literal, $clear:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(1)] pub clr: Input<ActiveLow>,
            #[contact(2)] pub clk: Input<Clock>,
            #[contact(3..=6)] pub abcd: [Input<Data>; 4],
            #[contact(7)] pub enp: Input<ActiveHigh>,
            #[contact(10)] pub ent: Input<ActiveHigh>,
            #[contact(9)] pub load: Input<ActiveLow>,
            #[contact(14..=11)] pub q: [Output<Data>; 4],
            #[contact(15)] pub rco: Output<ActiveHigh>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let count = Word::of(self.q);
                let counting = self.enp.asserted() & self.ent.asserted();
                let next = choose(self.load.asserted(), Word::of(self.abcd), choose(counting, $up(count), count));
                Filled {
                    q: each(|i| $clear(self.clk.rises(), next[i], self.clr.asserted())),
                    rco: assert_while(self.ent.asserted() & count.is($last)),
                }
            }
        }
    )+};
}

counters! {
    /// Decade counter with clear.
    Ls160 "74LS160": decade_up, last 9, cleared_at_once;
    /// Binary counter with clear.
    Ls161 "74LS161": binary_up, last 15, cleared_at_once;
    /// Decade counter, cleared on the clock.
    Ls162 "74LS162": decade_up, last 9, cleared_on_clock;
    /// Binary counter, cleared on the clock.
    Ls163 "74LS163": binary_up, last 15, cleared_on_clock;
}

/// What a count becomes where these of its bits toggle.
fn toggled(count: Word<4>, toggles: [Assertion; 4]) -> Word<4> {
    Word::from_fn(|i| high_while(count[i].is_high() ^ toggles[i]))
}

fn binary_up(count: Word<4>) -> Word<4> {
    count.plus_one()
}

fn binary_up_toggles(count: Word<4>) -> [Assertion; 4] {
    let [a, b, c, _] = count.bits().map(Level::is_high);
    [Assertion::ALWAYS, a, a & b, a & b & c]
}

/// After 9 comes 0. A decade counter can be loaded with 10 to 15, or come up with them; what follows is that of its
/// flip-flops, and of the state diagram that Motorola prints for the LS160A and LS192 (both from memory): 10, 11, 6; 12, 13,
/// 4; 14, 15, 2. A toggles; B while A and not D; C while A and B; D while A, and D or both of B and C.
fn decade_up_toggles(count: Word<4>) -> [Assertion; 4] {
    let [a, b, c, d] = count.bits().map(Level::is_high);
    [Assertion::ALWAYS, a & !d, a & b, a & (d | (b & c))]
}

fn decade_up(count: Word<4>) -> Word<4> {
    toggled(count, decade_up_toggles(count))
}

/// Before 0 comes 9. From 10 on by subtraction, by the flip-flops of the 74190 and 74192 (from memory): A toggles; B and C
/// while all below are low and the count is not 0; D while all below are low.
fn decade_down_toggles(count: Word<4>) -> [Assertion; 4] {
    let [a, b, c, d] = count.bits().map(Level::is_high);
    [Assertion::ALWAYS, !a & (b | c | d), !a & !b & (c | d), !a & !b & !c]
}

fn decade_down(count: Word<4>) -> Word<4> {
    toggled(count, decade_down_toggles(count))
}

/// As [`decade_down`], but D goes low with every even number, so that a number from 10 on is back in the decade after two
/// counts, as Motorola says of the 168: 12, 3; 14, 5. For 10, whose D may stay without that, see [`ten`].
fn decade_down_by_two_counts(count: Word<4>) -> Word<4> {
    let [a, _, c, d] = count.bits().map(Level::is_high);
    choose(c & d & !a, decade_down(count) & Word::number(7), decade_down(count))
}

/// Where no diagram says what D of a 168 does when it counts down: 9 and 1 are both in the decade.
fn ten(count: Word<4>) -> Assertion {
    count.is(10)
}

fn nowhere(_: Word<4>) -> Assertion {
    Assertion::NEVER
}

fn binary_down(count: Word<4>) -> Word<4> {
    count.minus_one()
}

fn binary_down_toggles(count: Word<4>) -> [Assertion; 4] {
    let [a, b, c, _] = count.bits().map(Level::is_high);
    [Assertion::ALWAYS, !a, !a & !b, !a & !b & !c]
}

/// Counters that count up while UD is high and down while it is low, and load on the clock.
macro_rules! up_down_counters {
    ($($(#[$doc:meta])* $part:ident $type:tt: $up:ident, $last:ident, $down:ident, $open:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(1)] pub ud: Input<Data>,
            #[contact(2)] pub clk: Input<Clock>,
            #[contact(3..=6)] pub abcd: [Input<Data>; 4],
            #[contact(7)] pub enp: Input<ActiveLow>,
            #[contact(10)] pub ent: Input<ActiveLow>,
            #[contact(9)] pub load: Input<ActiveLow>,
            #[contact(14..=11)] pub q: [Output<Data>; 4],
            #[contact(15)] pub rco: Output<ActiveLow>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let (count, up) = (Word::of(self.q), self.ud.level().is_high());
                let step = choose(up, $up(count), $down(count));
                let counting = self.enp.asserted() & self.ent.asserted();
                let next = choose(self.load.asserted(), Word::of(self.abcd), choose(counting, step, count));
                let open = $open(count) & counting & !up & !self.load.asserted();
                let stage = |i: usize| on(self.clk.rises()).load(next[i]);
                Filled {
                    q: [stage(0), stage(1), stage(2), stage(3).loads_unknown_while(open)],
                    rco: assert_while(self.ent.asserted() & choose(up, $last(count), count.is(0))),
                }
            }
        }
    )+};
}

up_down_counters! {
    /// Decade up/down counter.
    Ls168 "74LS168": decade_up, nine, decade_down_by_two_counts, ten;
    /// Binary up/down counter.
    Ls169 "74LS169": binary_up, fifteen, binary_down, nowhere;
    /// Binary up/down counter, as the 169.
    Ls669 "74LS669": binary_up, fifteen, binary_down, nowhere;
}

/// QA and QD: also 11, 13 and 15.
fn nine(count: Word<4>) -> Assertion {
    count[0].is_high() & count[3].is_high()
}

fn fifteen(count: Word<4>) -> Assertion {
    count.is(15)
}

/// Counters that count up while DU is low and down while it is high, and load while LOAD is asserted.
macro_rules! loadable_counters {
    ($($(#[$doc:meta])* $part:ident $type:tt: $up:ident, $last:ident, $down:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(15, 1, 10, 9)] pub abcd: [Input<Data>; 4],
            #[contact(11)] pub load: Input<ActiveLow>,
            #[contact(14)] pub clk: Input<Data>,
            #[contact(4)] pub cten: Input<ActiveLow>,
            #[contact(5)] pub du: Input<Data>,
            #[contact(3, 2, 6, 7)] pub q: [Output<Data>; 4],
            #[contact(12)] pub maxmin: Output<ActiveHigh>,
            #[contact(13)] pub rco: Output<ActiveLow>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let (count, up) = (Word::of(self.q), self.du.level().is_low());
                let next = choose(up, $up(count), $down(count));
                let end = choose(up, $last(count), count.is(0));
                let counting = self.cten.asserted();
                Filled {
                    q: each(|i| {
                        let counts = on(self.clk.rises()).load_if(counting, next[i]);
                        load_while(self.load.asserted(), self.abcd[i].level(), counts)
                    }),
                    maxmin: assert_while(end),
                    rco: assert_while(self.clk.level().is_low() & counting & end),
                }
            }
        }
    )+};
}

loadable_counters! {
    /// Decade up/down counter with one clock and parallel load.
    Ls190 "74LS190": decade_up, nine, decade_down;
    /// Binary up/down counter with one clock and parallel load.
    Ls191 "74LS191": binary_up, fifteen, binary_down;
}

/// Counters with one clock up and one down, clear, and load while LOAD is asserted. The clock that idles is high: each
/// stage toggles when its own clock, which the stages below gate, ends. Made of the next count, a stage's clock would seem to
/// depend on the stage itself, and every change of it to come round.
macro_rules! two_clock_counters {
    ($($(#[$doc:meta])* $part:ident $type:tt: $up:ident, $last:ident, $down:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(15, 1, 10, 9)] pub abcd: [Input<Data>; 4],
            #[contact(11)] pub load: Input<ActiveLow>,
            #[contact(14)] pub clr: Input<ActiveHigh>,
            #[contact(5)] pub up: Input<Data>,
            #[contact(4)] pub down: Input<Data>,
            #[contact(3, 2, 6, 7)] pub q: [Output<Data>; 4],
            #[contact(12)] pub co: Output<ActiveLow>,
            #[contact(13)] pub bo: Output<ActiveLow>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let count = Word::of(self.q);
                let (up, down) = (self.up.level().is_low(), self.down.level().is_low());
                let (toggles_up, toggles_down) = ($up(count), $down(count));
                let (clear, load) = (self.clr.asserted(), self.load.asserted() & !self.clr.asserted());
                Filled {
                    q: each(|i| {
                        let clock = (up & toggles_up[i]) | (down & toggles_down[i]);
                        let counts = on(clock.ends()).toggle().clear_while(clear);
                        load_while(load, self.abcd[i].level(), counts)
                    }),
                    co: assert_while(up & $last(count)),
                    bo: assert_while(down & count.is(0)),
                }
            }
        }
    )+};
}

two_clock_counters! {
    /// Decade up/down counter with two clocks.
    Ls192 "74LS192": decade_up_toggles, nine, decade_down_toggles;
    /// Binary up/down counter with two clocks.
    Ls193 "74LS193": binary_up_toggles, fifteen, binary_down_toggles;
}

pub(super) const MODELS: &[Model] = models![
    Ls160: "74ls160"; Ls161: "74ls161"; Ls162: "74ls162"; Ls163: "74ls163"; Ls168: "74ls168"; Ls169: "74ls169";
    Ls669: "74ls669";
    Ls190: "74ls190"; Ls191: "74ls191"; Ls192: "74ls192"; Ls193: "74ls193";
];
