//! Shift registers.
use gluewright::prelude::*;

use super::{Model, cleared_at_once, cleared_on_clock, load_while};

/// 8-bit shift register, serial in and serial out.
#[derive(Circuit)]
#[circuit(part = "74LS91", vcc = 5, gnd = 10)]
#[rustfmt::skip]
pub struct Ls91 {
    #[contact(9)]      pub clk:  Input<Clock>,
    #[contact(12, 11)] pub ab:   [Input<Data>; 2],
    #[contact(13)]     pub qh:   Output<Data>,
    #[contact(14)]     pub qh_n: Output<Data>,
    stage: [Buried<Register>; 8],
}

impl Wiring for Ls91 {
    fn wire(&self) -> Ls91Wiring {
        let next = Word::of(self.stage).shifted_up(both_high(self.ab));
        Ls91Wiring {
            stage: each(|i| on(self.clk.rises()).load(next[i])),
            qh: follow(self.stage[7].q()),
            qh_n: follow(self.stage[7].q_inverted()),
        }
    }
}

/// 8-bit shift register, serial in and parallel out, with clear.
#[derive(Circuit)]
#[circuit(part = "74LS164", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls164 {
    #[contact(1, 2)]          pub ab:  [Input<Data>; 2],
    #[contact(8)]             pub clk: Input<Clock>,
    #[contact(9)]             pub clr: Input<ActiveLow>,
    #[contact(3..=6, 10..=13)] pub q:  [Output<Data>; 8],
}

impl Wiring for Ls164 {
    fn wire(&self) -> Ls164Wiring {
        let next = Word::of(self.q).shifted_up(both_high(self.ab));
        Ls164Wiring { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    }
}

fn both_high([a, b]: [Input<Data>; 2]) -> Level {
    high_while(a.level().is_high() & b.level().is_high())
}

/// 4-bit shift register with one falling-edge clock for shifting and one for loading.
#[derive(Circuit)]
#[circuit(part = "74LS95", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls95 {
    #[contact(1)]       pub ser:  Input<Data>,
    #[contact(2..=5)]   pub abcd: [Input<Data>; 4],
    #[contact(6)]       pub mode: Input<ActiveHigh>,
    #[contact(9, 8)]    pub clk:  [Input<Data>; 2],
    #[contact(13..=10)] pub q:    [Output<Data>; 4],
}

impl Wiring for Ls95 {
    fn wire(&self) -> Ls95Wiring {
        let loading = self.mode.asserted();
        let clock = choose(loading, self.clk[1].level(), self.clk[0].level());
        let next = choose(loading, Word::of(self.abcd), Word::of(self.q).shifted_up(self.ser.level()));
        Ls95Wiring { q: each(|i| on(clock.falls()).load(next[i])) }
    }
}

/// 8-bit shift register, parallel in and serial out. It loads while SHLD is low, whatever the clock does.
#[derive(Circuit)]
#[circuit(part = "74LS165", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls165 {
    #[contact(1)]              pub shld:     Input<ActiveLow>,
    #[contact(2)]              pub clk:      Input<Data>,
    #[contact(15)]             pub clkinh:   Input<ActiveHigh>,
    #[contact(10)]             pub ser:      Input<Data>,
    #[contact(11..=14, 3..=6)] pub abcdefgh: [Input<Data>; 8],
    #[contact(9)]              pub qh:       Output<Data>,
    #[contact(7)]              pub qh_n:     Output<Data>,
    stage: [Buried<Register>; 8],
}

impl Wiring for Ls165 {
    fn wire(&self) -> Ls165Wiring {
        let clock = (self.clk.level().is_high() | self.clkinh.asserted()).begins();
        let next = Word::of(self.stage).shifted_up(self.ser.level());
        Ls165Wiring {
            stage: each(|i| load_while(self.shld.asserted(), self.abcdefgh[i].level(), on(clock).load(next[i]))),
            qh: follow(self.stage[7].q()),
            qh_n: follow(!self.stage[7].q()),
        }
    }
}

/// 8-bit shift register, parallel and serial in and serial out, with clear. It loads on the clock.
#[derive(Circuit)]
#[circuit(part = "74LS166", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls166 {
    #[contact(1)]                     pub ser:      Input<Data>,
    #[contact(2..=5, 10, 11, 12, 14)] pub abcdefgh: [Input<Data>; 8],
    #[contact(6)]                     pub clkinh:   Input<ActiveHigh>,
    #[contact(7)]                     pub clk:      Input<Data>,
    #[contact(9)]                     pub clr:      Input<ActiveLow>,
    #[contact(15)]                    pub shld:     Input<ActiveLow>,
    #[contact(13)]                    pub qh:       Output<Data>,
    stage: [Buried<Register>; 8],
}

impl Wiring for Ls166 {
    fn wire(&self) -> Ls166Wiring {
        let clock = (self.clk.level().is_high() | self.clkinh.asserted()).begins();
        let shifted = Word::of(self.stage).shifted_up(self.ser.level());
        let next = choose(self.shld.asserted(), Word::of(self.abcdefgh), shifted);
        Ls166Wiring {
            stage: each(|i| on(clock).load(next[i]).clear_while(self.clr.asserted())),
            qh: follow(self.stage[7].q()),
        }
    }
}

/// 4-bit shift register that shifts either way, holds and loads, with clear.
#[derive(Circuit)]
#[circuit(part = "74LS194", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls194 {
    #[contact(1)]       pub clr:   Input<ActiveLow>,
    #[contact(2)]       pub srser: Input<Data>,
    #[contact(3..=6)]   pub abcd:  [Input<Data>; 4],
    #[contact(7)]       pub slser: Input<Data>,
    #[contact(9, 10)]   pub s:     [Input<Data>; 2],
    #[contact(11)]      pub clk:   Input<Clock>,
    #[contact(15..=12)] pub q:     [Output<Data>; 4],
}

impl Wiring for Ls194 {
    fn wire(&self) -> Ls194Wiring {
        let hold = Word::of(self.q);
        let right = hold.shifted_up(self.srser.level());
        let left = hold.shifted_down(self.slser.level());
        let next = Word::of(self.s).pick([hold, right, left, Word::of(self.abcd)]);
        Ls194Wiring { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    }
}

/// 8-bit shift register that shifts either way, holds and loads, with clear.
#[derive(Circuit)]
#[circuit(part = "74198", vcc = 24, gnd = 12)]
#[rustfmt::skip]
pub struct Std198 {
    #[contact(13)]                            pub clr:      Input<ActiveLow>,
    #[contact(2)]                             pub srser:    Input<Data>,
    #[contact(3, 5, 7, 9, 15, 17, 19, 21)]    pub abcdefgh: [Input<Data>; 8],
    #[contact(22)]                            pub slser:    Input<Data>,
    #[contact(1, 23)]                         pub s:        [Input<Data>; 2],
    #[contact(11)]                            pub clk:      Input<Clock>,
    #[contact(4, 6, 8, 10, 14, 16, 18, 20)]   pub q:        [Output<Data>; 8],
}

impl Wiring for Std198 {
    fn wire(&self) -> Std198Wiring {
        let hold = Word::of(self.q);
        let right = hold.shifted_up(self.srser.level());
        let left = hold.shifted_down(self.slser.level());
        let next = Word::of(self.s).pick([hold, right, left, Word::of(self.abcdefgh)]);
        Std198Wiring { q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())) }
    }
}

/// 4-bit shift register with parallel load, a J-K input of its first stage, and clear.
#[derive(Circuit)]
#[circuit(part = "74LS195", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls195 {
    #[contact(1)]       pub clr:  Input<ActiveLow>,
    #[contact(2)]       pub j:    Input<ActiveHigh>,
    #[contact(3)]       pub k_n:  Input<ActiveLow>,
    #[contact(4..=7)]   pub abcd: [Input<Data>; 4],
    #[contact(9)]       pub shld: Input<ActiveLow>,
    #[contact(10)]      pub clk:  Input<Clock>,
    #[contact(15..=12)] pub q:    [Output<Data>; 4],
    #[contact(11)]      pub qd_n: Output<Data>,
}

impl Wiring for Ls195 {
    fn wire(&self) -> Ls195Wiring {
        let q = Word::of(self.q);
        let first = choose(q[0].is_high(), !self.k_n.asserted(), self.j.asserted());
        let next = choose(self.shld.asserted(), Word::of(self.abcd), q.shifted_up(high_while(first)));
        Ls195Wiring {
            q: each(|i| on(self.clk.rises()).load(next[i]).clear_while(self.clr.asserted())),
            qd_n: follow(!q[3]),
        }
    }
}

/// 4-bit shift register with parallel load, a falling-edge clock and three-state outputs.
#[derive(Circuit)]
#[circuit(part = "74LS295", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls295 {
    #[contact(1)]       pub ser:  Input<Data>,
    #[contact(2..=5)]   pub abcd: [Input<Data>; 4],
    #[contact(6)]       pub ldsh: Input<ActiveHigh>,
    #[contact(8)]       pub oc:   Input<ActiveHigh>,
    #[contact(9)]       pub clk:  Input<Clock>,
    #[contact(13..=10)] pub q:    [Output<Data, ThreeState>; 4],
}

impl Wiring for Ls295 {
    fn wire(&self) -> Ls295Wiring {
        let shifted = Word::of(self.q).shifted_up(self.ser.level());
        let next = choose(self.ldsh.asserted(), Word::of(self.abcd), shifted);
        Ls295Wiring { q: each(|i| on(self.clk.falls()).load(next[i]).drive_while(self.oc.asserted())) }
    }
}

/// 4-bit shift register with parallel load, a falling-edge clock, three-state outputs, clear, and a serial output.
#[derive(Circuit)]
#[circuit(part = "74LS395", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls395 {
    #[contact(1)]       pub clr:      Input<ActiveLow>,
    #[contact(2)]       pub ser:      Input<Data>,
    #[contact(3..=6)]   pub abcd:     [Input<Data>; 4],
    #[contact(7)]       pub ldsh:     Input<ActiveHigh>,
    #[contact(9)]       pub oc:       Input<ActiveLow>,
    #[contact(10)]      pub clk:      Input<Clock>,
    #[contact(15..=12)] pub q:        [Output<Data, ThreeState>; 4],
    #[contact(11)]      pub qd_prime: Output<Data>,
}

impl Wiring for Ls395 {
    fn wire(&self) -> Ls395Wiring {
        let q = Word::of(self.q.map(|q| q.held()));
        let next = choose(self.ldsh.asserted(), Word::of(self.abcd), q.shifted_up(self.ser.level()));
        Ls395Wiring {
            q: each(|i| {
                on(self.clk.falls()).load(next[i]).clear_while(self.clr.asserted()).drive_while(self.oc.asserted())
            }),
            qd_prime: follow(q[3]),
        }
    }
}

/// 8-bit shift and storage registers whose parallel inputs are their three-state outputs.
macro_rules! storage_registers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $clear:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 20, gnd = 10)]
        pub struct $part {
            #[contact(1, 19)] pub s: [Input<Data>; 2],
            #[contact(2, 3)] pub g: [Input<ActiveLow>; 2],
            #[contact(9)] pub clr: Input<ActiveLow>,
            #[contact(12)] pub clk: Input<Clock>,
            #[contact(11)] pub sr: Input<Data>,
            #[contact(18)] pub sl: Input<Data>,
            #[contact(7, 13, 6, 14, 5, 15, 4, 16)] pub q: [InOut<Data>; 8],
            #[contact(8)] pub qa_prime: Output<Data>,
            #[contact(17)] pub qh_prime: Output<Data>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let (mode, hold) = (Word::of(self.s), Word::of(self.q.map(|q| q.held())));
                let (right, left) = (hold.shifted_up(self.sr.level()), hold.shifted_down(self.sl.level()));
                let next = mode.pick([hold, right, left, Word::of(self.q)]);
                let driving = self.g[0].asserted() & self.g[1].asserted() & !mode.is(3);
                let clear = self.clr.asserted();
                Filled {
                    q: each(|i| $clear(self.clk.rises(), next[i], clear).drive_while(driving)),
                    qa_prime: follow(hold[0]),
                    qh_prime: follow(hold[7]),
                }
            }
        }
    )+};
}

storage_registers! {
    /// 8-bit shift and storage register with clear.
    Ls299 "74LS299": cleared_at_once;
    /// 8-bit shift and storage register, cleared on the clock.
    Ls323 "74LS323": cleared_on_clock;
}

/// 8-bit shift register that hands its stages to an output register on a clock of its own.
#[derive(Circuit)]
#[circuit(part = "74LS595", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls595 {
    #[contact(14)]        pub ser:      Input<Data>,
    #[contact(11)]        pub srclk:    Input<Clock>,
    #[contact(10)]        pub srclr:    Input<ActiveLow>,
    #[contact(12)]        pub rclk:     Input<Clock>,
    #[contact(13)]        pub oe:       Input<ActiveLow>,
    #[contact(15, 1..=7)] pub q:        [Output<Data, ThreeState>; 8],
    #[contact(9)]         pub qh_prime: Output<Data>,
    stage: [Buried<Register>; 8],
}

impl Wiring for Ls595 {
    fn wire(&self) -> Ls595Wiring {
        let next = Word::of(self.stage).shifted_up(self.ser.level());
        Ls595Wiring {
            stage: each(|i| on(self.srclk.rises()).load(next[i]).clear_while(self.srclr.asserted())),
            q: each(|i| on(self.rclk.rises()).load(self.stage[i].q()).drive_while(self.oe.asserted())),
            qh_prime: follow(self.stage[7].q()),
        }
    }
}

/// 8-bit shift register that is loaded from an input register on a clock of its own.
#[derive(Circuit)]
#[circuit(part = "74LS597", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls597 {
    #[contact(15, 1..=7)] pub abcdefgh: [Input<Data>; 8],
    #[contact(12)]        pub rclk:     Input<Clock>,
    #[contact(13)]        pub srload:   Input<ActiveLow>,
    #[contact(10)]        pub srclr:    Input<ActiveLow>,
    #[contact(11)]        pub srclk:    Input<Clock>,
    #[contact(14)]        pub ser:      Input<Data>,
    #[contact(9)]         pub qh_prime: Output<Data>,
    stored: [Buried<Register>; 8],
    stage:  [Buried<Register>; 8],
}

impl Wiring for Ls597 {
    fn wire(&self) -> Ls597Wiring {
        let next = Word::of(self.stage).shifted_up(self.ser.level());
        Ls597Wiring {
            stored: each(|i| on(self.rclk.rises()).load(self.abcdefgh[i].level())),
            stage: each(|i| {
                let shifting = on(self.srclk.rises()).load(next[i]).clear_while(self.srclr.asserted());
                load_while(self.srload.asserted(), self.stored[i].q(), shifting)
            }),
            qh_prime: follow(self.stage[7].q()),
        }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls91: "74ls91"; Ls95: "74ls95"; Ls164: "74ls164"; Ls165: "74ls165"; Ls166: "74ls166"; Ls194: "74ls194";
    Ls195: "74ls195"; Ls295: "74ls295"; Ls299: "74ls299"; Ls323: "74ls323"; Ls395: "74ls395"; Ls595: "74ls595";
    Ls597: "74ls597";
    Std198: "74198";
];
