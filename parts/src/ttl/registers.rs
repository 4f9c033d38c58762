//! Registers: several flip-flops that load together.
use gluewright::prelude::*;

use super::{Model, inverted, same};

/// Flip-flops with a common clock and clear.
macro_rules! cleared_registers {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt of d($($d:tt),+) to q($($q:tt),+), clk($clk:tt), clr($clr:tt), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($clk)] pub clk: Input<Clock>,
            #[contact($clr)] pub clr: Input<ActiveLow>,
            #[contact($($d),+)] pub d: [Input<Data>; $n],
            #[contact($($q),+)] pub q: [Output<Data>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let clear = self.clr.asserted();
                Filled { q: each(|i| on(self.clk.rises()).load(self.d[i].level()).clear_while(clear)) }
            }
        }
    )+};
}

cleared_registers! {
    /// Hex D flip-flop with clear.
    Ls174 "74LS174": 6 of d(3, 4, 6, 11, 13, 14) to q(2, 5, 7, 10, 12, 15), clk(9), clr(1), vcc 16, gnd 8;
    /// Octal D flip-flop with clear.
    Ls273 "74LS273": 8 of d(3, 4, 7, 8, 13, 14, 17, 18) to q(2, 5, 6, 9, 12, 15, 16, 19), clk(11), clr(1), vcc 20, gnd 10;
}

/// Flip-flops with a common clock and a clock enable: it gates the data, not the clock.
macro_rules! enabled_registers {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt of d($($d:tt),+) to q($($q:tt),+), clk($clk:tt), en($en:tt), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($clk)] pub clk: Input<Clock>,
            #[contact($en)] pub en: Input<ActiveLow>,
            #[contact($($d),+)] pub d: [Input<Data>; $n],
            #[contact($($q),+)] pub q: [Output<Data>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { q: each(|i| on(self.clk.rises()).load_if(self.en.asserted(), self.d[i].level())) }
            }
        }
    )+};
}

enabled_registers! {
    /// Octal D flip-flop with clock enable.
    Ls377 "74LS377": 8 of d(3, 4, 7, 8, 13, 14, 17, 18) to q(2, 5, 6, 9, 12, 15, 16, 19), clk(11), en(1), vcc 20, gnd 10;
    /// Hex D flip-flop with clock enable.
    Ls378 "74LS378": 6 of d(3, 4, 6, 11, 13, 14) to q(2, 5, 7, 10, 12, 15), clk(9), en(1), vcc 16, gnd 8;
}

/// Eight flip-flops with three-state outputs.
macro_rules! three_state_registers {
    ($($(#[$doc:meta])* $part:ident $type:tt: d($($d:tt),+) to $q:ident($($pin:tt),+), $level:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 20, gnd = 10)]
        pub struct $part {
            #[contact(1)] pub oe: Input<ActiveLow>,
            #[contact(11)] pub clk: Input<Clock>,
            #[contact($($d),+)] pub d: [Input<Data>; 8],
            #[contact($($pin),+)] pub $q: [Output<Data, ThreeState>; 8],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { $q: each(|i| on(self.clk.rises()).load($level(self.d[i])).drive_while(self.oe.asserted())) }
            }
        }
    )+};
}

three_state_registers! {
    /// Octal D flip-flop, three-state outputs with a high level for MOS inputs.
    Ls364 "74LS364": d(3, 4, 7, 8, 13, 14, 17, 18) to q(2, 5, 6, 9, 12, 15, 16, 19), same;
    /// Octal D flip-flop, three-state outputs.
    Ls374 "74LS374": d(3, 4, 7, 8, 13, 14, 17, 18) to q(2, 5, 6, 9, 12, 15, 16, 19), same;
    /// Octal D flip-flop, inverting three-state outputs.
    Ls534 "74LS534": d(3, 4, 7, 8, 13, 14, 17, 18) to q_n(2, 5, 6, 9, 12, 15, 16, 19), inverted;
    /// Octal D flip-flop, inverting three-state outputs opposite to their inputs.
    Ls564 "74LS564": d(2, 3, 4, 5, 6, 7, 8, 9) to q_n(19, 18, 17, 16, 15, 14, 13, 12), inverted;
    /// Octal D flip-flop, three-state outputs opposite to their inputs.
    Ls574 "74LS574": d(2, 3, 4, 5, 6, 7, 8, 9) to q(19, 18, 17, 16, 15, 14, 13, 12), same;
}

/// 4-bit register, three-state outputs, two data enables, two output enables, and a clear that is asserted while high.
#[derive(Circuit)]
#[circuit(part = "74LS173", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls173 {
    #[contact(1)]       pub m:   Input<ActiveLow>,
    #[contact(2)]       pub n:   Input<ActiveLow>,
    #[contact(3..=6)]   pub q:   [Output<Data, ThreeState>; 4],
    #[contact(7)]       pub clk: Input<Clock>,
    #[contact(9, 10)]   pub g:   [Input<ActiveLow>; 2],
    #[contact(14..=11)] pub d:   [Input<Data>; 4],
    #[contact(15)]      pub clr: Input<ActiveHigh>,
}

impl Wiring for Ls173 {
    fn wire(&self) -> Ls173Wiring {
        let loading = self.g[0].asserted() & self.g[1].asserted();
        let driving = self.m.asserted() & self.n.asserted();
        Ls173Wiring {
            q: each(|i| {
                on(self.clk.rises())
                    .load_if(loading, self.d[i].level())
                    .clear_while(self.clr.asserted())
                    .drive_while(driving)
            }),
        }
    }
}

/// Quad D flip-flop with clear and complementary outputs.
#[derive(Circuit)]
#[circuit(part = "74LS175", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls175 {
    #[contact(1)]            pub clr: Input<ActiveLow>,
    #[contact(9)]            pub clk: Input<Clock>,
    #[contact(4, 5, 12, 13)] pub d:   [Input<Data>; 4],
    #[contact(2, 7, 10, 15)] pub q:   [Output<Data>; 4],
    #[contact(3, 6, 11, 14)] pub q_n: [Output<Data>; 4],
}

impl Wiring for Ls175 {
    fn wire(&self) -> Ls175Wiring {
        Ls175Wiring {
            q: each(|i| on(self.clk.rises()).load(self.d[i].level()).clear_while(self.clr.asserted())),
            q_n: each(|i| follow(!self.q[i].level())),
        }
    }
}

/// Quad D flip-flop with clock enable and complementary outputs.
#[derive(Circuit)]
#[circuit(part = "74LS379", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls379 {
    #[contact(1)]            pub en:  Input<ActiveLow>,
    #[contact(9)]            pub clk: Input<Clock>,
    #[contact(4, 5, 12, 13)] pub d:   [Input<Data>; 4],
    #[contact(2, 7, 10, 15)] pub q:   [Output<Data>; 4],
    #[contact(3, 6, 11, 14)] pub q_n: [Output<Data>; 4],
}

impl Wiring for Ls379 {
    fn wire(&self) -> Ls379Wiring {
        Ls379Wiring {
            q: each(|i| on(self.clk.rises()).load_if(self.en.asserted(), self.d[i].level())),
            q_n: each(|i| follow(!self.q[i].level())),
        }
    }
}

/// Quad 2-to-1 multiplexer with storage: word 1 while WS is low, word 2 while it is high.
#[derive(Circuit)]
#[circuit(part = "74LS298", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls298 {
    #[contact(3, 2)]    pub a:   [Input<Data>; 2],
    #[contact(4, 1)]    pub b:   [Input<Data>; 2],
    #[contact(9, 5)]    pub c:   [Input<Data>; 2],
    #[contact(7, 6)]    pub d:   [Input<Data>; 2],
    #[contact(10)]      pub ws:  Input<Data>,
    #[contact(11)]      pub clk: Input<Clock>,
    #[contact(15..=12)] pub q:   [Output<Data>; 4],
}

impl Wiring for Ls298 {
    fn wire(&self) -> Ls298Wiring {
        let pairs = [self.a, self.b, self.c, self.d];
        let second = self.ws.level().is_high();
        Ls298Wiring {
            q: each(|i| {
                let [word1, word2] = pairs[i].map(|p| p.level());
                on(self.clk.falls()).load(choose(second, word2, word1))
            }),
        }
    }
}

/// Quad 2-to-1 multiplexer with storage, on the rising edge: word 1 while WS is low, word 2 while it is high.
#[derive(Circuit)]
#[circuit(part = "74LS399", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls399 {
    #[contact(3, 4)]         pub a:   [Input<Data>; 2],
    #[contact(6, 5)]         pub b:   [Input<Data>; 2],
    #[contact(11, 12)]       pub c:   [Input<Data>; 2],
    #[contact(14, 13)]       pub d:   [Input<Data>; 2],
    #[contact(1)]            pub ws:  Input<Data>,
    #[contact(9)]            pub clk: Input<Clock>,
    #[contact(2, 7, 10, 15)] pub q:   [Output<Data>; 4],
}

impl Wiring for Ls399 {
    fn wire(&self) -> Ls399Wiring {
        let pairs = [self.a, self.b, self.c, self.d];
        let second = self.ws.level().is_high();
        Ls399Wiring {
            q: each(|i| {
                let [word1, word2] = pairs[i].map(|p| p.level());
                on(self.clk.rises()).load(choose(second, word2, word1))
            }),
        }
    }
}

/// Quad D flip-flop with two sets of outputs, one of them three-state.
#[derive(Circuit)]
#[circuit(part = "25LS2518", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls2518 {
    #[contact(9)]             pub cp: Input<Clock>,
    #[contact(7)]             pub oe: Input<ActiveLow>,
    #[contact(1, 4, 12, 15)]  pub d:  [Input<Data>; 4],
    #[contact(2, 5, 11, 14)]  pub q:  [Output<Data>; 4],
    #[contact(3, 6, 10, 13)]  pub y:  [Output<Data, ThreeState>; 4],
}

impl Wiring for Ls2518 {
    fn wire(&self) -> Ls2518Wiring {
        Ls2518Wiring {
            q: each(|i| on(self.cp.rises()).load(self.d[i].level())),
            y: each(|i| follow(self.q[i].level()).drive_while(self.oe.asserted())),
        }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls173: "74ls173"; Ls174: "74ls174"; Ls175: "74ls175"; Ls273: "74ls273"; Ls298: "74ls298"; Ls364: "74ls364";
    Ls374: "74ls374"; Ls377: "74ls377"; Ls378: "74ls378"; Ls379: "74ls379"; Ls534: "74ls534"; Ls564: "74ls564";
    Ls574: "74ls574";
    Ls399: "74ls399"; Ls2518: "25ls2518";
];
