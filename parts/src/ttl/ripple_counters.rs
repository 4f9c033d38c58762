//! Counters whose stages clock each other: a stage by two, and one by five, six or eight, on falling edges.
use gluewright::prelude::*;

use super::{Model, load_while};

type Stages = [Definition<Output<Data>>; 4];

/// QA by two on one clock, QB to QD by five on the other: QC toggles when QB falls. By the flip-flops of the 7490's diagram
/// (from memory) J of QB is the inverse of QD; QD is set by QB and QC and reset by itself: after 5 comes 2, after 6 comes 2.
/// At 7 QD is set and reset together: no diagram decides it.
fn decade(by_two: Edge, by_five: Edge, q: [Output<Data>; 4]) -> Stages {
    let [_, b, c, d] = q.map(|q| q.level());
    let set = b.is_high() & c.is_high();
    [
        on(by_two).toggle(),
        on(by_five).jk(d.is_low(), Assertion::ALWAYS),
        on(b.falls()).toggle(),
        on(by_five).jk(set, Assertion::ALWAYS).loads_unknown_while(set & d.is_high()),
    ]
}

/// QA by two on one clock, QB and QC by three on the other; QD toggles when QC falls. By the flip-flops of the 7492's
/// diagram (from memory) J of QB is the inverse of QC and J of QC is QB: both high, they both go low.
fn dozen(by_two: Edge, by_six: Edge, q: [Output<Data>; 4]) -> Stages {
    let [_, b, c, _] = q.map(|q| q.level());
    [
        on(by_two).toggle(),
        on(by_six).jk(c.is_low(), Assertion::ALWAYS),
        on(by_six).jk(b.is_high(), Assertion::ALWAYS),
        on(c.falls()).toggle(),
    ]
}

/// QA by two on one clock, QB to QD by eight on the other: each toggles when the one before it falls.
fn binary(by_two: Edge, by_eight: Edge, q: [Output<Data>; 4]) -> Stages {
    let [_, b, c, _] = q.map(|q| q.level());
    [on(by_two).toggle(), on(by_eight).toggle(), on(b.falls()).toggle(), on(c.falls()).toggle()]
}

fn cleared_while(clear: Assertion, stages: Stages) -> Stages {
    stages.map(|stage| stage.clear_while(clear))
}

/// Set to 9, which goes before the reset to 0.
fn set_or_cleared(nine: Assertion, zero: Assertion, stages: Stages) -> Stages {
    let [a, b, c, d] = stages;
    let zero_only = zero & !nine;
    [
        a.preset_while(nine).clear_while(zero_only),
        b.clear_while(nine | zero),
        c.clear_while(nine | zero),
        d.preset_while(nine).clear_while(zero_only),
    ]
}

fn both<const N: usize>(inputs: [Input<ActiveHigh>; N]) -> Assertion {
    inputs.into_iter().fold(Assertion::ALWAYS, |all, i| all & i.asserted())
}

/// Decade counters with two inputs each to reset them to 0 and to set them to 9.
macro_rules! decade_counters {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: cka($cka:tt), ckb($ckb:tt), r0($($r0:tt),+), r9($($r9:tt),+), q($($q:tt),+),
            vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($cka)] pub cka: Input<Clock>,
            #[contact($ckb)] pub ckb: Input<Clock>,
            #[contact($($r0),+)] pub r0: [Input<ActiveHigh>; 2],
            #[contact($($r9),+)] pub r9: [Input<ActiveHigh>; 2],
            #[contact($($q),+)] pub q: [Output<Data>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let stages = decade(self.cka.falls(), self.ckb.falls(), self.q);
                Filled { q: set_or_cleared(both(self.r9), both(self.r0), stages) }
            }
        }
    )+};
}

decade_counters! {
    /// Decade counter, supplied at pins 5 and 10.
    Ls90 "74LS90": cka(14), ckb(1), r0(2, 3), r9(6, 7), q(12, 9, 8, 11), vcc 5, gnd 10;
    /// Decade counter.
    Ls290 "74LS290": cka(10), ckb(11), r0(12, 13), r9(1, 3), q(9, 5, 4, 8), vcc 14, gnd 7;
}

/// Counters with two inputs to reset them.
macro_rules! counters_with_reset {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $stages:ident, cka($cka:tt), ckb($ckb:tt), r0($($r0:tt),+), q($($q:tt),+),
            vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($cka)] pub cka: Input<Clock>,
            #[contact($ckb)] pub ckb: Input<Clock>,
            #[contact($($r0),+)] pub r0: [Input<ActiveHigh>; 2],
            #[contact($($q),+)] pub q: [Output<Data>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { q: cleared_while(both(self.r0), $stages(self.cka.falls(), self.ckb.falls(), self.q)) }
            }
        }
    )+};
}

counters_with_reset! {
    /// Divide-by-twelve counter, supplied at pins 5 and 10.
    Ls92 "74LS92": dozen, cka(14), ckb(1), r0(6, 7), q(12, 11, 9, 8), vcc 5, gnd 10;
    /// Binary counter, supplied at pins 5 and 10.
    Ls93 "74LS93": binary, cka(14), ckb(1), r0(2, 3), q(12, 9, 8, 11), vcc 5, gnd 10;
    /// Binary counter.
    Ls293 "74LS293": binary, cka(10), ckb(11), r0(12, 13), q(9, 5, 4, 8), vcc 14, gnd 7;
}

/// Counters with clear, and load while LOAD is asserted.
macro_rules! presettable_counters {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stages:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 14, gnd = 7)]
        pub struct $part {
            #[contact(1)] pub load: Input<ActiveLow>,
            #[contact(13)] pub clr: Input<ActiveLow>,
            #[contact(8, 6)] pub clk: [Input<Clock>; 2],
            #[contact(4, 10, 3, 11)] pub abcd: [Input<Data>; 4],
            #[contact(5, 9, 2, 12)] pub q: [Output<Data>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let clear = self.clr.asserted();
                let stages = cleared_while(clear, $stages(self.clk[0].falls(), self.clk[1].falls(), self.q));
                let mut data = self.abcd.into_iter().map(|d| d.level());
                Filled {
                    q: stages.map(|stage| {
                        load_while(self.load.asserted() & !clear, data.next().unwrap_or(Level::LOW), stage)
                    }),
                }
            }
        }
    )+};
}

presettable_counters! {
    /// Presettable decade counter.
    Ls196 "74LS196": decade;
    /// Presettable binary counter.
    Ls197 "74LS197": binary;
}

/// Dual decade counter, each with two clocks and clear.
#[derive(Circuit)]
#[circuit(part = "74LS390", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls390 {
    #[contact(1, 15)]         pub cka: [Input<Clock>; 2],
    #[contact(4, 12)]         pub ckb: [Input<Clock>; 2],
    #[contact(2, 14)]         pub clr: [Input<ActiveHigh>; 2],
    #[contact(3, 5, 6, 7)]    pub q1:  [Output<Data>; 4],
    #[contact(13, 11, 10, 9)] pub q2:  [Output<Data>; 4],
}

impl Wiring for Ls390 {
    fn wire(&self) -> Ls390Wiring {
        let half =
            |i: usize, q| cleared_while(self.clr[i].asserted(), decade(self.cka[i].falls(), self.ckb[i].falls(), q));
        Ls390Wiring { q1: half(0, self.q1), q2: half(1, self.q2) }
    }
}

/// Dual binary counter with clear.
#[derive(Circuit)]
#[circuit(part = "74LS393", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls393 {
    #[contact(1, 13)]  pub a:   [Input<Clock>; 2],
    #[contact(2, 12)]  pub clr: [Input<ActiveHigh>; 2],
    #[contact(3..=6)]  pub q1:  [Output<Data>; 4],
    #[contact(11..=8)] pub q2:  [Output<Data>; 4],
}

impl Wiring for Ls393 {
    fn wire(&self) -> Ls393Wiring {
        let half = |i: usize, q: [Output<Data>; 4]| {
            cleared_while(self.clr[i].asserted(), binary(self.a[i].falls(), q[0].falls(), q))
        };
        Ls393Wiring { q1: half(0, self.q1), q2: half(1, self.q2) }
    }
}

/// Dual decade counter with clear and set to 9.
#[derive(Circuit)]
#[circuit(part = "74LS490", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls490 {
    #[contact(1, 15)]         pub clk:  [Input<Clock>; 2],
    #[contact(2, 14)]         pub clr:  [Input<ActiveHigh>; 2],
    #[contact(4, 12)]         pub set9: [Input<ActiveHigh>; 2],
    #[contact(3, 5, 6, 7)]    pub q1:   [Output<Data>; 4],
    #[contact(13, 11, 10, 9)] pub q2:   [Output<Data>; 4],
}

impl Wiring for Ls490 {
    fn wire(&self) -> Ls490Wiring {
        let half = |i: usize, q: [Output<Data>; 4]| {
            let stages = decade(self.clk[i].falls(), q[0].falls(), q);
            set_or_cleared(self.set9[i].asserted(), self.clr[i].asserted(), stages)
        };
        Ls490Wiring { q1: half(0, self.q1), q2: half(1, self.q2) }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls90: "74ls90"; Ls92: "74ls92"; Ls93: "74ls93"; Ls196: "74ls196"; Ls197: "74ls197"; Ls290: "74ls290";
    Ls293: "74ls293"; Ls390: "74ls390"; Ls393: "74ls393"; Ls490: "74ls490";
];
