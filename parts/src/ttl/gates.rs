//! Gates, inverters and buffers without an enable: each section drives one function of its own inputs.
use gluewright::prelude::*;

use super::Model;

/// Equal gates in a package of 14 pins, supplied at its corners.
macro_rules! gates {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt of y($($y:tt),+) = $gate:ident($($x:ident($($pin:tt),+)),+), $stage:ident;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 14, gnd = 7)]
        pub(crate) struct $part {
            $(#[contact($($pin),+)] $x: [Input<Data>; $n],)+
            #[contact($($y),+)] y: [Output<Data, $stage>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { y: each(|i| follow($gate([$(self.$x[i].level()),+]))) }
            }
        }
    )+};
}

gates! {
    /// Quad 2-input NAND gate.
    Ls00 "74LS00": 4 of y(3, 6, 8, 11) = nand(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input NAND gate, open-collector outputs.
    Ls01 "74LS01": 4 of y(1, 4, 10, 13) = nand(a(2, 5, 8, 11), b(3, 6, 9, 12)), OpenCollector;
    /// Quad 2-input NOR gate.
    Ls02 "74LS02": 4 of y(1, 4, 10, 13) = nor(a(2, 5, 8, 11), b(3, 6, 9, 12)), PushPull;
    /// Quad 2-input NAND gate, open-collector outputs.
    Ls03 "74LS03": 4 of y(3, 6, 8, 11) = nand(a(1, 4, 9, 12), b(2, 5, 10, 13)), OpenCollector;
    /// Hex inverter.
    Ls04 "74LS04": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), PushPull;
    /// Hex inverter, open-collector outputs.
    Ls05 "74LS05": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), OpenCollector;
    /// Hex inverter, open-collector outputs for 30 V.
    Ls06 "74LS06": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), OpenCollector;
    /// Hex buffer, open-collector outputs for 30 V.
    Ls07 "74LS07": 6 of y(2, 4, 6, 8, 10, 12) = same(a(1, 3, 5, 9, 11, 13)), OpenCollector;
    /// Quad 2-input AND gate.
    Ls08 "74LS08": 4 of y(3, 6, 8, 11) = and(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input AND gate, open-collector outputs.
    Ls09 "74LS09": 4 of y(3, 6, 8, 11) = and(a(1, 4, 9, 12), b(2, 5, 10, 13)), OpenCollector;
    /// Triple 3-input NAND gate.
    Ls10 "74LS10": 3 of y(12, 6, 8) = nand(a(1, 3, 9), b(2, 4, 10), c(13, 5, 11)), PushPull;
    /// Triple 3-input AND gate.
    Ls11 "74LS11": 3 of y(12, 6, 8) = and(a(1, 3, 9), b(2, 4, 10), c(13, 5, 11)), PushPull;
    /// Triple 3-input NAND gate, open-collector outputs.
    Ls12 "74LS12": 3 of y(12, 6, 8) = nand(a(1, 3, 9), b(2, 4, 10), c(13, 5, 11)), OpenCollector;
    /// Hex inverter with Schmitt-trigger inputs.
    Ls14 "74LS14": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), PushPull;
    /// Dual 4-input NAND gate.
    Ls20 "74LS20": 2 of y(6, 8) = nand(a(1, 9), b(2, 10), c(4, 12), d(5, 13)), PushPull;
    /// Dual 4-input AND gate.
    Ls21 "74LS21": 2 of y(6, 8) = and(a(1, 9), b(2, 10), c(4, 12), d(5, 13)), PushPull;
    /// Dual 4-input NAND gate, open-collector outputs.
    Ls22 "74LS22": 2 of y(6, 8) = nand(a(1, 9), b(2, 10), c(4, 12), d(5, 13)), OpenCollector;
    /// Quad 2-input NAND gate, open-collector outputs for 15 V.
    Ls26 "74LS26": 4 of y(3, 6, 8, 11) = nand(a(1, 4, 9, 12), b(2, 5, 10, 13)), OpenCollector;
    /// Triple 3-input NOR gate.
    Ls27 "74LS27": 3 of y(12, 6, 8) = nor(a(1, 3, 9), b(2, 4, 10), c(13, 5, 11)), PushPull;
    /// Quad 2-input NOR buffer.
    Ls28 "74LS28": 4 of y(1, 4, 10, 13) = nor(a(2, 5, 8, 11), b(3, 6, 9, 12)), PushPull;
    /// Quad 2-input OR gate.
    Ls32 "74LS32": 4 of y(3, 6, 8, 11) = or(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input NOR buffer, open-collector outputs.
    Ls33 "74LS33": 4 of y(1, 4, 10, 13) = nor(a(2, 5, 8, 11), b(3, 6, 9, 12)), OpenCollector;
    /// Quad 2-input NAND buffer.
    Ls37 "74LS37": 4 of y(3, 6, 8, 11) = nand(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input NAND buffer, open-collector outputs.
    Ls38 "74LS38": 4 of y(3, 6, 8, 11) = nand(a(1, 4, 9, 12), b(2, 5, 10, 13)), OpenCollector;
    /// Dual 4-input NAND buffer.
    Ls40 "74LS40": 2 of y(6, 8) = nand(a(1, 9), b(2, 10), c(4, 12), d(5, 13)), PushPull;
    /// Quad 2-input exclusive-OR gate.
    Ls86 "74LS86": 4 of y(3, 6, 8, 11) = xor(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input NAND gate with Schmitt-trigger inputs.
    Ls132 "74LS132": 4 of y(3, 6, 8, 11) = nand(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input exclusive-OR gate, open-collector outputs.
    Ls136 "74LS136": 4 of y(3, 6, 8, 11) = xor(a(1, 4, 9, 12), b(2, 5, 10, 13)), OpenCollector;
    /// Quad 2-input exclusive-NOR gate, open-collector outputs.
    Ls266 "74LS266": 4 of y(3, 4, 10, 11) = xnor(a(1, 5, 8, 12), b(2, 6, 9, 13)), OpenCollector;
}

/// 8-input NAND gate.
#[derive(Circuit)]
#[circuit(part = "74LS30", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub(crate) struct Ls30 {
    #[contact(1..=6, 11, 12)] abcdefgh: [Input<Data>; 8],
    #[contact(8)]             y: Output<Data>,
}

impl Wiring for Ls30 {
    fn wire(&self) -> Ls30Wiring {
        Ls30Wiring { y: follow(nand(self.abcdefgh.map(|a| a.level()))) }
    }
}

/// Dual AND-OR-INVERT gate: three and three inputs, two and two inputs.
#[derive(Circuit)]
#[circuit(part = "74LS51", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub(crate) struct Ls51 {
    #[contact(1, 12, 13)] abc1: [Input<Data>; 3],
    #[contact(9, 10, 11)] def1: [Input<Data>; 3],
    #[contact(2, 3)]      ab2:  [Input<Data>; 2],
    #[contact(4, 5)]      cd2:  [Input<Data>; 2],
    #[contact(8, 6)]      y:    [Output<Data>; 2],
}

impl Wiring for Ls51 {
    fn wire(&self) -> Ls51Wiring {
        let wide = all_high(self.abc1) | all_high(self.def1);
        let narrow = all_high(self.ab2) | all_high(self.cd2);
        Ls51Wiring { y: [follow(low_while(wide)), follow(low_while(narrow))] }
    }
}

/// AND-OR-INVERT gate of two, three, three and two inputs.
#[derive(Circuit)]
#[circuit(part = "74LS54", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub(crate) struct Ls54 {
    #[contact(1, 2)]   ab:  [Input<Data>; 2],
    #[contact(3..=5)]  cde: [Input<Data>; 3],
    #[contact(9..=11)] fgh: [Input<Data>; 3],
    #[contact(12, 13)] ij:  [Input<Data>; 2],
    #[contact(6)]      y:   Output<Data>,
}

impl Wiring for Ls54 {
    fn wire(&self) -> Ls54Wiring {
        let any = all_high(self.ab) | all_high(self.cde) | all_high(self.fgh) | all_high(self.ij);
        Ls54Wiring { y: follow(low_while(any)) }
    }
}

fn all_high<const N: usize>(inputs: [Input<Data>; N]) -> Assertion {
    and(inputs.map(|a| a.level())).is_high()
}

fn and<const N: usize>(inputs: [Level; N]) -> Level {
    high_while(inputs.into_iter().fold(Assertion::ALWAYS, |all, a| all & a.is_high()))
}

fn nand<const N: usize>(inputs: [Level; N]) -> Level {
    !and(inputs)
}

fn or<const N: usize>(inputs: [Level; N]) -> Level {
    high_while(inputs.into_iter().fold(Assertion::NEVER, |any, a| any | a.is_high()))
}

fn nor<const N: usize>(inputs: [Level; N]) -> Level {
    !or(inputs)
}

fn xor([a, b]: [Level; 2]) -> Level {
    high_while(a.differs_from(b))
}

fn xnor([a, b]: [Level; 2]) -> Level {
    high_while(a.same_as(b))
}

fn not([a]: [Level; 1]) -> Level {
    !a
}

fn same([a]: [Level; 1]) -> Level {
    a
}

pub(super) const MODELS: &[Model] = models![
    Ls00: "74ls00"; Ls01: "74ls01"; Ls02: "74ls02"; Ls03: "74ls03"; Ls04: "74ls04"; Ls05: "74ls05";
    Ls06: "74ls06", "7406"; Ls07: "74ls07", "7407"; Ls08: "74ls08"; Ls09: "74ls09"; Ls10: "74ls10"; Ls11: "74ls11";
    Ls12: "74ls12"; Ls14: "74ls14"; Ls20: "74ls20"; Ls21: "74ls21"; Ls22: "74ls22"; Ls26: "74ls26"; Ls27: "74ls27";
    Ls28: "74ls28"; Ls30: "74ls30"; Ls32: "74ls32"; Ls33: "74ls33"; Ls37: "74ls37"; Ls38: "74ls38"; Ls40: "74ls40";
    Ls51: "74ls51"; Ls54: "74ls54"; Ls86: "74ls86"; Ls132: "74ls132"; Ls136: "74ls136"; Ls266: "74ls266";
];
