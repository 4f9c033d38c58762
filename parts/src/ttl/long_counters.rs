//! Counters of more than four stages: rings, long ripple counters, and one with a register behind it.
use gluewright::prelude::*;

use super::Model;

/// Ripple counters of which every stage has a pin: each toggles when the one before it falls.
macro_rules! long_ripple_counters {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt stages q($($q:tt),+), clk($clk:tt), r($r:tt), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($clk)] pub clk: Input<Clock>,
            #[contact($r)] pub r: Input<ActiveHigh>,
            #[contact($($q),+)] pub q: [Output<Data>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    q: each(|i| {
                        let clock = if i == 0 { self.clk.falls() } else { self.q[i - 1].level().falls() };
                        on(clock).toggle().clear_while(self.r.asserted())
                    }),
                }
            }
        }
    )+};
}

long_ripple_counters! {
    /// 7-stage ripple counter.
    Cd4024 "CD4024": 7 stages q(12, 11, 9, 6, 5, 4, 3), clk(1), r(2), vcc 14, gnd 7;
    /// 12-stage ripple counter.
    Cd4040 "CD4040": 12 stages q(9, 7, 6, 5, 3, 2, 4, 13, 12, 14, 15, 1), clk(10), r(11), vcc 16, gnd 8;
}

/// 14-stage ripple counter; the second and third stage have no pins.
#[derive(Circuit)]
#[circuit(part = "CD4020", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Cd4020 {
    #[contact(10)] pub clk: Input<Clock>,
    #[contact(11)] pub r:   Input<ActiveHigh>,
    #[contact(9)]  pub q1:  Output<Data>,
    #[contact(7, 5, 4, 6, 13, 12, 14, 15, 1, 2, 3)] pub q: [Output<Data>; 11],
    hidden: [Buried<Register>; 2],
}

impl Wiring for Cd4020 {
    fn wire(&self) -> Cd4020Wiring {
        let clear = self.r.asserted();
        let [second, third] = self.hidden;
        Cd4020Wiring {
            q1: on(self.clk.falls()).toggle().clear_while(clear),
            hidden: [
                on(self.q1.level().falls()).toggle().clear_while(clear),
                on(second.q().falls()).toggle().clear_while(clear),
            ],
            q: each(|i| {
                let clock = if i == 0 { third.q() } else { self.q[i - 1].level() };
                on(clock.falls()).toggle().clear_while(clear)
            }),
        }
    }
}

/// 14-stage ripple counter with the gates of an oscillator; stages 1 to 3 and 11 have no pins.
#[derive(Circuit)]
#[circuit(part = "CD4060", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Cd4060 {
    #[contact(11)] pub clk:  Input<Data>,
    #[contact(12)] pub r:    Input<ActiveHigh>,
    #[contact(9)]  pub co:   Output<Data>,
    #[contact(10)] pub co_n: Output<Data>,
    #[contact(7, 5, 4, 6, 14, 13, 15)] pub q: [Output<Data>; 7],
    #[contact(1, 2, 3)] pub high: [Output<Data>; 3],
    first: [Buried<Register>; 3],
    eleventh: Buried<Register>,
}

impl Wiring for Cd4060 {
    fn wire(&self) -> Cd4060Wiring {
        let clear = self.r.asserted();
        let gated = self.clk.level().is_high() & !clear;
        Cd4060Wiring {
            co: follow(high_while(gated)),
            co_n: follow(low_while(gated)),
            first: each(|i| {
                let clock = if i == 0 { self.clk.level() } else { self.first[i - 1].q() };
                on(clock.falls()).toggle().clear_while(clear)
            }),
            q: each(|i| {
                let clock = if i == 0 { self.first[2].q() } else { self.q[i - 1].level() };
                on(clock.falls()).toggle().clear_while(clear)
            }),
            eleventh: on(self.q[6].level().falls()).toggle().clear_while(clear),
            high: each(|i| {
                let clock = if i == 0 { self.eleventh.q() } else { self.high[i - 1].level() };
                on(clock.falls()).toggle().clear_while(clear)
            }),
        }
    }
}

/// Decade counter with ten decoded outputs: a ring of five stages. The third stage takes the second only while the first or
/// the third is set, so that a state that is none of the ten is left again.
#[derive(Circuit)]
#[circuit(part = "CD4017", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Cd4017 {
    #[contact(14)] pub clk: Input<Data>,
    #[contact(13)] pub inh: Input<ActiveHigh>,
    #[contact(15)] pub r:   Input<ActiveHigh>,
    #[contact(3, 2, 4, 7, 10, 1, 5, 6, 9, 11)] pub q: [Output<Data>; 10],
    #[contact(12)] pub co:  Output<Data>,
    ring: [Buried<Register>; 5],
}

impl Wiring for Cd4017 {
    fn wire(&self) -> Cd4017Wiring {
        let clock = (self.clk.level().is_high() & !self.inh.asserted()).begins();
        let clear = self.r.asserted();
        let s = self.ring.map(|stage| stage.q());
        let next = [!s[4], s[0], high_while(s[1].is_high() & (s[0].is_high() | s[2].is_high())), s[2], s[3]];
        let shows = |i: usize| match i {
            0 => s[0].is_low() & s[4].is_low(),
            1..=4 => s[i - 1].is_high() & s[i].is_low(),
            5 => s[0].is_high() & s[4].is_high(),
            _ => s[i - 6].is_low() & s[i - 5].is_high(),
        };
        Cd4017Wiring {
            ring: each(|i| on(clock).load(next[i]).clear_while(clear)),
            q: each(|i| follow(high_while(shows(i)))),
            co: follow(!s[4]),
        }
    }
}

/// 8-bit counter with a register behind it and three-state outputs.
#[derive(Circuit)]
#[circuit(part = "74LS590", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls590 {
    #[contact(11)]       pub cck:   Input<Clock>,
    #[contact(12)]       pub ccken: Input<ActiveLow>,
    #[contact(10)]       pub cclr:  Input<ActiveLow>,
    #[contact(13)]       pub rck:   Input<Clock>,
    #[contact(14)]       pub g:     Input<ActiveLow>,
    #[contact(15, 1..=7)] pub q:    [Output<Data, ThreeState>; 8],
    #[contact(9)]        pub rco:   Output<ActiveLow>,
    count: [Buried<Register>; 8],
}

impl Wiring for Ls590 {
    fn wire(&self) -> Ls590Wiring {
        let count = Word::<8>::from_fn(|i| self.count[i].q());
        let next = count.plus_one();
        let counting = self.ccken.asserted();
        Ls590Wiring {
            count: each(|i| on(self.cck.rises()).load_if(counting, next[i]).clear_while(self.cclr.asserted())),
            q: each(|i| on(self.rck.rises()).load(count[i]).drive_while(self.g.asserted())),
            rco: assert_while(counting & count.is(255)),
        }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls590: "74ls590"; Cd4017: "cd4017"; Cd4020: "cd4020"; Cd4024: "cd4024"; Cd4040: "cd4040"; Cd4060: "cd4060";
];
