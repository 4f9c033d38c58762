//! One, two or three gates, buffers or flip-flops in a small package: the numbers with a G in them.
use gluewright::prelude::*;

use super::Model;
use super::gates::{and, nand, nor, not, or, same, xor};

/// Gates, supplied at pins of their own.
macro_rules! small_gates {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt of y($($y:tt),+) = $gate:ident($($x:ident($($pin:tt),+)),+), $stage:ident,
            vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            $(#[contact($($pin),+)] pub $x: [Input<Data>; $n],)+
            #[contact($($y),+)] pub y: [Output<Data, $stage>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { y: each(|i| follow($gate([$(self.$x[i].level()),+]))) }
            }
        }
    )+};
}

small_gates! {
    /// 2-input NAND gate.
    One00 "74LVC1G00": 1 of y(4) = nand(a(1), b(2)), PushPull, vcc 5, gnd 3;
    /// 2-input NOR gate.
    One02 "74LVC1G02": 1 of y(4) = nor(a(1), b(2)), PushPull, vcc 5, gnd 3;
    /// Inverter.
    One04 "74LVC1G04": 1 of y(4) = not(a(2)), PushPull, vcc 5, gnd 3;
    /// Inverter, open-drain output.
    One06 "74LVC1G06": 1 of y(4) = not(a(2)), OpenCollector, vcc 5, gnd 3;
    /// Buffer, open-drain output.
    One07 "74LVC1G07": 1 of y(4) = same(a(2)), OpenCollector, vcc 5, gnd 3;
    /// 2-input AND gate.
    One08 "74LVC1G08": 1 of y(4) = and(a(1), b(2)), PushPull, vcc 5, gnd 3;
    /// Inverter with Schmitt-trigger input.
    One14 "74LVC1G14": 1 of y(4) = not(a(2)), PushPull, vcc 5, gnd 3;
    /// Buffer with Schmitt-trigger input.
    One17 "74LVC1G17": 1 of y(4) = same(a(2)), PushPull, vcc 5, gnd 3;
    /// 2-input OR gate.
    One32 "74LVC1G32": 1 of y(4) = or(a(1), b(2)), PushPull, vcc 5, gnd 3;
    /// Buffer.
    One34 "74LVC1G34": 1 of y(4) = same(a(2)), PushPull, vcc 5, gnd 3;
    /// 2-input NAND gate, open-drain output.
    One38 "74LVC1G38": 1 of y(4) = nand(a(1), b(2)), OpenCollector, vcc 5, gnd 3;
    /// 2-input exclusive-OR gate.
    One86 "74LVC1G86": 1 of y(4) = xor(a(1), b(2)), PushPull, vcc 5, gnd 3;
    /// Dual 2-input NAND gate.
    Two00 "74LVC2G00": 2 of y(7, 3) = nand(a(1, 5), b(2, 6)), PushPull, vcc 8, gnd 4;
    /// Dual 2-input NOR gate.
    Two02 "74LVC2G02": 2 of y(7, 3) = nor(a(1, 5), b(2, 6)), PushPull, vcc 8, gnd 4;
    /// Dual inverter.
    Two04 "74LVC2G04": 2 of y(6, 4) = not(a(1, 3)), PushPull, vcc 5, gnd 2;
    /// Dual inverter, open-drain outputs.
    Two06 "74LVC2G06": 2 of y(6, 4) = not(a(1, 3)), OpenCollector, vcc 5, gnd 2;
    /// Dual buffer, open-drain outputs.
    Two07 "74LVC2G07": 2 of y(6, 4) = same(a(1, 3)), OpenCollector, vcc 5, gnd 2;
    /// Dual 2-input AND gate.
    Two08 "74LVC2G08": 2 of y(7, 3) = and(a(1, 5), b(2, 6)), PushPull, vcc 8, gnd 4;
    /// Dual inverter with Schmitt-trigger inputs.
    Two14 "74LVC2G14": 2 of y(6, 4) = not(a(1, 3)), PushPull, vcc 5, gnd 2;
    /// Dual buffer with Schmitt-trigger inputs.
    Two17 "74LVC2G17": 2 of y(6, 4) = same(a(1, 3)), PushPull, vcc 5, gnd 2;
    /// Dual 2-input OR gate.
    Two32 "74LVC2G32": 2 of y(7, 3) = or(a(1, 5), b(2, 6)), PushPull, vcc 8, gnd 4;
    /// Dual buffer.
    Two34 "74LVC2G34": 2 of y(6, 4) = same(a(1, 3)), PushPull, vcc 5, gnd 2;
    /// Dual 2-input exclusive-OR gate.
    Two86 "74LVC2G86": 2 of y(7, 3) = xor(a(1, 5), b(2, 6)), PushPull, vcc 8, gnd 4;
}

/// Buffers with enables.
macro_rules! small_buffers {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt of y($($y:tt),+), a($($a:tt),+), g($($g:tt),+) enabled $polarity:ident,
            vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($($g),+)] pub g: [Input<$polarity>; $n],
            #[contact($($a),+)] pub a: [Input<Data>; $n],
            #[contact($($y),+)] pub y: [Output<Data, ThreeState>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { y: each(|i| follow(self.a[i].level()).drive_while(self.g[i].asserted())) }
            }
        }
    )+};
}

small_buffers! {
    /// Buffer, enabled while low.
    One125 "74LVC1G125": 1 of y(4), a(2), g(1) enabled ActiveLow, vcc 5, gnd 3;
    /// Buffer, enabled while high.
    One126 "74LVC1G126": 1 of y(4), a(2), g(1) enabled ActiveHigh, vcc 5, gnd 3;
    /// Dual buffer, enabled while low.
    Two125 "74LVC2G125": 2 of y(6, 3), a(2, 5), g(1, 7) enabled ActiveLow, vcc 8, gnd 4;
    /// Dual buffer, enabled while high.
    Two126 "74LVC2G126": 2 of y(6, 3), a(2, 5), g(1, 7) enabled ActiveHigh, vcc 8, gnd 4;
}

/// D flip-flop.
#[derive(Circuit)]
#[circuit(part = "74LVC1G79", vcc = 5, gnd = 3)]
#[rustfmt::skip]
pub struct One79 {
    #[contact(1)] pub d:   Input<Data>,
    #[contact(2)] pub clk: Input<Clock>,
    #[contact(4)] pub q:   Output<Data>,
}

impl Wiring for One79 {
    fn wire(&self) -> One79Wiring {
        One79Wiring { q: on(self.clk.rises()).load(self.d.level()) }
    }
}

/// D flip-flop, inverting output.
#[derive(Circuit)]
#[circuit(part = "74LVC1G80", vcc = 5, gnd = 3)]
#[rustfmt::skip]
pub struct One80 {
    #[contact(1)] pub d:   Input<Data>,
    #[contact(2)] pub clk: Input<Clock>,
    #[contact(4)] pub q_n: Output<Data>,
}

impl Wiring for One80 {
    fn wire(&self) -> One80Wiring {
        One80Wiring { q_n: on(self.clk.rises()).load(!self.d.level()) }
    }
}

/// D flip-flop with preset and clear.
macro_rules! small_flip_flops {
    ($($(#[$doc:meta])* $part:ident $type:tt;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 8, gnd = 4)]
        pub struct $part {
            #[contact(1)] pub clk: Input<Clock>,
            #[contact(2)] pub d: Input<Data>,
            #[contact(7)] pub pre: Input<ActiveLow>,
            #[contact(6)] pub clr: Input<ActiveLow>,
            #[contact(5)] pub q: Output<Data>,
            #[contact(3)] pub q_n: Output<Data>,
            state: Buried<Register>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    state: on(self.clk.rises())
                        .load(self.d.level())
                        .preset_while(self.pre.asserted())
                        .clear_while(self.clr.asserted()),
                    q: follow(self.state.q()),
                    q_n: follow(self.state.q_inverted()),
                }
            }
        }
    )+};
}

small_flip_flops! {
    /// D flip-flop with preset and clear.
    One74 "74LVC1G74";
    /// D flip-flop with preset and clear, under its other number.
    Two74 "74LVC2G74";
}

pub(super) const MODELS: &[Model] = models![
    One00: "74lvc1g00"; One02: "74lvc1g02"; One04: "74lvc1g04"; One06: "74lvc1g06"; One07: "74lvc1g07"; One08: "74lvc1g08";
    One14: "74lvc1g14"; One17: "74lvc1g17"; One32: "74lvc1g32"; One34: "74lvc1g34"; One38: "74lvc1g38";
    One74: "74lvc1g74"; One79: "74lvc1g79"; One80: "74lvc1g80"; One86: "74lvc1g86"; One125: "74lvc1g125";
    One126: "74lvc1g126"; Two00: "74lvc2g00"; Two02: "74lvc2g02"; Two04: "74lvc2g04"; Two06: "74lvc2g06";
    Two07: "74lvc2g07"; Two08: "74lvc2g08"; Two14: "74lvc2g14"; Two17: "74lvc2g17"; Two32: "74lvc2g32";
    Two34: "74lvc2g34"; Two74: "74lvc2g74"; Two86: "74lvc2g86"; Two125: "74lvc2g125"; Two126: "74lvc2g126";
];
