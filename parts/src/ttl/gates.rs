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
    /// Hex inverter, open-collector outputs for 15 V.
    Ls16 "74LS16": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), OpenCollector;
    /// Hex buffer, open-collector outputs for 15 V.
    Ls17 "74LS17": 6 of y(2, 4, 6, 8, 10, 12) = same(a(1, 3, 5, 9, 11, 13)), OpenCollector;
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
    /// Dual 4-input NOR gate with strobes.
    Std25 "7425": 2 of y(6, 8) = strobed_nor(a(1, 9), b(2, 10), c(4, 12), d(5, 13), g(3, 11)), PushPull;
    /// Dual 5-input NOR gate.
    S260 "74S260": 2 of y(5, 6) = nor(a(1, 4), b(2, 8), c(3, 9), d(12, 10), e(13, 11)), PushPull;
    /// Quad 2-input OR driver.
    Als1032 "74ALS1032": 4 of y(3, 6, 8, 11) = or(a(1, 4, 9, 12), b(2, 5, 10, 13)), PushPull;
    /// Quad 2-input NOR gate.
    Cd4001 "CD4001": 4 of y(3, 4, 10, 11) = nor(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Dual 4-input NOR gate.
    Cd4002 "CD4002": 2 of y(1, 13) = nor(a(2, 9), b(3, 10), c(4, 11), d(5, 12)), PushPull;
    /// Quad 2-input NAND gate.
    Cd4011 "CD4011": 4 of y(3, 4, 10, 11) = nand(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Dual 4-input NAND gate.
    Cd4012 "CD4012": 2 of y(1, 13) = nand(a(2, 9), b(3, 10), c(4, 11), d(5, 12)), PushPull;
    /// Triple 3-input NAND gate.
    Cd4023 "CD4023": 3 of y(9, 6, 10) = nand(a(1, 3, 11), b(2, 4, 12), c(8, 5, 13)), PushPull;
    /// Triple 3-input NOR gate.
    Cd4025 "CD4025": 3 of y(9, 6, 10) = nor(a(1, 3, 11), b(2, 4, 12), c(8, 5, 13)), PushPull;
    /// Quad exclusive-OR gate, the older type.
    Cd4030 "CD4030": 4 of y(3, 4, 10, 11) = xor(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Hex inverter.
    Cd4069 "CD4069": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), PushPull;
    /// Quad exclusive-OR gate.
    Cd4070 "CD4070": 4 of y(3, 4, 10, 11) = xor(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Quad 2-input OR gate.
    Cd4071 "CD4071": 4 of y(3, 4, 10, 11) = or(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Dual 4-input OR gate.
    Cd4072 "CD4072": 2 of y(1, 13) = or(a(2, 9), b(3, 10), c(4, 11), d(5, 12)), PushPull;
    /// Triple 3-input AND gate.
    Cd4073 "CD4073": 3 of y(9, 6, 10) = and(a(1, 3, 11), b(2, 4, 12), c(8, 5, 13)), PushPull;
    /// Triple 3-input OR gate.
    Cd4075 "CD4075": 3 of y(9, 6, 10) = or(a(1, 3, 11), b(2, 4, 12), c(8, 5, 13)), PushPull;
    /// Quad exclusive-NOR gate.
    Cd4077 "CD4077": 4 of y(3, 4, 10, 11) = xnor(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Quad 2-input AND gate.
    Cd4081 "CD4081": 4 of y(3, 4, 10, 11) = and(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Dual 4-input AND gate.
    Cd4082 "CD4082": 2 of y(1, 13) = and(a(2, 9), b(3, 10), c(4, 11), d(5, 12)), PushPull;
    /// Quad 2-input NAND gate with Schmitt-trigger inputs.
    Cd4093 "CD4093": 4 of y(3, 4, 10, 11) = nand(a(1, 5, 8, 12), b(2, 6, 9, 13)), PushPull;
    /// Hex inverter with Schmitt-trigger inputs.
    Cd40106 "CD40106": 6 of y(2, 4, 6, 8, 10, 12) = not(a(1, 3, 5, 9, 11, 13)), PushPull;
}

/// Six converters of levels in a package of 16 pins that is supplied at pin 1.
macro_rules! level_converters {
    ($($(#[$doc:meta])* $part:ident $type:tt: $gate:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 1, gnd = 8)]
        pub struct $part {
            #[contact(3, 5, 7, 9, 11, 14)] pub a: [Input<Data>; 6],
            #[contact(2, 4, 6, 10, 12, 15)] pub y: [Output<Data>; 6],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { y: each(|i| follow($gate([self.a[i].level()]))) }
            }
        }
    )+};
}

level_converters! {
    /// Hex inverting buffer.
    Cd4049 "CD4049": not;
    /// Hex buffer.
    Cd4050 "CD4050": same;
}

/// 13-input NAND gate.
#[derive(Circuit)]
#[circuit(part = "74LS133", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls133 {
    #[contact(1..=7, 10..=15)] pub abcdefghijklm: [Input<Data>; 13],
    #[contact(9)]              pub y:             Output<Data>,
}

impl Wiring for Ls133 {
    fn wire(&self) -> Ls133Wiring {
        Ls133Wiring { y: follow(nand(self.abcdefghijklm.map(|a| a.level()))) }
    }
}

/// AND-OR-INVERT gate of four, two, three and two inputs.
#[derive(Circuit)]
#[circuit(part = "74S64", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct S64 {
    #[contact(1, 11..=13)] pub abcd: [Input<Data>; 4],
    #[contact(2, 3)]       pub ef:   [Input<Data>; 2],
    #[contact(4..=6)]      pub ghi:  [Input<Data>; 3],
    #[contact(9, 10)]      pub jk:   [Input<Data>; 2],
    #[contact(8)]          pub y:    Output<Data>,
}

impl Wiring for S64 {
    fn wire(&self) -> S64Wiring {
        let any = all_high(self.abcd) | all_high(self.ef) | all_high(self.ghi) | all_high(self.jk);
        S64Wiring { y: follow(low_while(any)) }
    }
}

/// 8-input gates of the 4000 series with both polarities of their output.
macro_rules! eight_inputs {
    ($($(#[$doc:meta])* $part:ident $type:tt: $gate:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 14, gnd = 7)]
        pub struct $part {
            #[contact(2, 3, 4, 5, 9, 10, 11, 12)] pub abcdefgh: [Input<Data>; 8],
            #[contact(1)] pub w: Output<Data>,
            #[contact(13)] pub y: Output<Data>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let w = $gate(self.abcdefgh.map(|a| a.level()));
                Filled { w: follow(w), y: follow(!w) }
            }
        }
    )+};
}

eight_inputs! {
    /// 8-input NAND and AND gate.
    Cd4068 "CD4068": and;
    /// 8-input NOR and OR gate.
    Cd4078 "CD4078": or;
}

/// Two gates in a package of 8 pins that drive loads.
macro_rules! peripheral_drivers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $gate:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 8, gnd = 4)]
        pub struct $part {
            #[contact(1, 6)] pub a: [Input<Data>; 2],
            #[contact(2, 7)] pub b: [Input<Data>; 2],
            #[contact(3, 5)] pub y: [Output<Data, OpenCollector>; 2],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { y: each(|i| follow($gate([self.a[i].level(), self.b[i].level()]))) }
            }
        }
    )+};
}

peripheral_drivers! {
    /// Dual 2-input AND driver, open-collector outputs for 30 V and 300 mA.
    Std75451 "75451": and;
    /// Dual 2-input NAND driver, open-collector outputs for 30 V and 300 mA.
    Std75452 "75452": nand;
    /// Dual 2-input OR driver, open-collector outputs for 30 V and 300 mA.
    Std75453 "75453": or;
    /// Dual 2-input NOR driver, open-collector outputs for 30 V and 300 mA.
    Std75454 "75454": nor;
}

/// 8-input NAND gate.
#[derive(Circuit)]
#[circuit(part = "74LS30", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls30 {
    #[contact(1..=6, 11, 12)] pub abcdefgh: [Input<Data>; 8],
    #[contact(8)]             pub y: Output<Data>,
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
pub struct Ls51 {
    #[contact(1, 12, 13)] pub abc1: [Input<Data>; 3],
    #[contact(9, 10, 11)] pub def1: [Input<Data>; 3],
    #[contact(2, 3)]      pub ab2:  [Input<Data>; 2],
    #[contact(4, 5)]      pub cd2:  [Input<Data>; 2],
    #[contact(8, 6)]      pub y:    [Output<Data>; 2],
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
pub struct Ls54 {
    #[contact(1, 2)]   pub ab:  [Input<Data>; 2],
    #[contact(3..=5)]  pub cde: [Input<Data>; 3],
    #[contact(9..=11)] pub fgh: [Input<Data>; 3],
    #[contact(12, 13)] pub ij:  [Input<Data>; 2],
    #[contact(6)]      pub y:   Output<Data>,
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

pub(super) fn and<const N: usize>(inputs: [Level; N]) -> Level {
    high_while(inputs.into_iter().fold(Assertion::ALWAYS, |all, a| all & a.is_high()))
}

pub(super) fn nand<const N: usize>(inputs: [Level; N]) -> Level {
    !and(inputs)
}

pub(super) fn or<const N: usize>(inputs: [Level; N]) -> Level {
    high_while(inputs.into_iter().fold(Assertion::NEVER, |any, a| any | a.is_high()))
}

pub(super) fn nor<const N: usize>(inputs: [Level; N]) -> Level {
    !or(inputs)
}

fn strobed_nor([a, b, c, d, strobe]: [Level; 5]) -> Level {
    low_while(strobe.is_high() & or([a, b, c, d]).is_high())
}

pub(super) fn xor([a, b]: [Level; 2]) -> Level {
    high_while(a.differs_from(b))
}

fn xnor([a, b]: [Level; 2]) -> Level {
    high_while(a.same_as(b))
}

pub(super) fn not([a]: [Level; 1]) -> Level {
    !a
}

pub(super) fn same([a]: [Level; 1]) -> Level {
    a
}

pub(super) const MODELS: &[Model] = models![
    Ls00: "74ls00"; Ls01: "74ls01"; Ls02: "74ls02"; Ls03: "74ls03"; Ls04: "74ls04"; Ls05: "74ls05";
    Ls06: "74ls06", "7406"; Ls07: "74ls07", "7407"; Ls08: "74ls08"; Ls09: "74ls09"; Ls10: "74ls10"; Ls11: "74ls11";
    Ls12: "74ls12"; Ls16: "74ls16", "7416"; Ls17: "74ls17", "7417"; Ls14: "74ls14"; Ls20: "74ls20"; Ls21: "74ls21"; Ls22: "74ls22"; Ls26: "74ls26"; Ls27: "74ls27";
    Ls28: "74ls28"; Ls30: "74ls30"; Ls32: "74ls32"; Ls33: "74ls33"; Ls37: "74ls37"; Ls38: "74ls38"; Ls40: "74ls40";
    Ls51: "74ls51"; Ls54: "74ls54"; Ls86: "74ls86"; Ls132: "74ls132"; Ls136: "74ls136"; Ls266: "74ls266";
    Std25: "7425"; S64: "74s64"; Ls133: "74ls133"; S260: "74s260"; Als1032: "74als1032"; Cd4001: "cd4001";
    Cd4002: "cd4002"; Cd4011: "cd4011"; Cd4012: "cd4012"; Cd4023: "cd4023"; Cd4025: "cd4025"; Cd4030: "cd4030";
    Cd4049: "cd4049"; Cd4050: "cd4050"; Cd4068: "cd4068"; Cd4069: "cd4069"; Cd4070: "cd4070"; Cd4071: "cd4071";
    Cd4072: "cd4072"; Cd4073: "cd4073"; Cd4075: "cd4075"; Cd4077: "cd4077"; Cd4078: "cd4078"; Cd4081: "cd4081";
    Cd4082: "cd4082"; Cd4093: "cd4093"; Cd40106: "cd40106"; Std75451: "75451"; Std75452: "75452"; Std75453: "75453";
    Std75454: "75454";
];
