//! Drivers of buses with an enable for each direction, with registers, or of 16 bits.
use gluewright::prelude::*;

use super::Model;
use super::buffers::driven;

/// Quad bus transceiver, one enable for each direction.
#[derive(Circuit)]
#[circuit(part = "74LS243", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls243 {
    #[contact(1)]      pub gab: Input<ActiveLow>,
    #[contact(13)]     pub gba: Input<ActiveHigh>,
    #[contact(3..=6)]  pub a:   [InOut<Data, ThreeState>; 4],
    #[contact(11..=8)] pub b:   [InOut<Data, ThreeState>; 4],
}

impl Wiring for Ls243 {
    fn wire(&self) -> Ls243Wiring {
        Ls243Wiring {
            a: each(|i| driven(self.b[i].level(), self.gba.asserted())),
            b: each(|i| driven(self.a[i].level(), self.gab.asserted())),
        }
    }
}

/// Octal bus transceiver with a register for each direction: each side drives what stands on the other, or what it stored.
#[derive(Circuit)]
#[circuit(part = "74LS652", vcc = 24, gnd = 12)]
#[rustfmt::skip]
pub struct Ls652 {
    #[contact(1)]       pub cab: Input<Clock>,
    #[contact(2)]       pub sab: Input<Data>,
    #[contact(3)]       pub gab: Input<ActiveHigh>,
    #[contact(4..=11)]  pub a:   [InOut<Data, ThreeState>; 8],
    #[contact(20..=13)] pub b:   [InOut<Data, ThreeState>; 8],
    #[contact(21)]      pub gba: Input<ActiveLow>,
    #[contact(22)]      pub sba: Input<Data>,
    #[contact(23)]      pub cba: Input<Clock>,
    from_a: [Buried<Register>; 8],
    from_b: [Buried<Register>; 8],
}

impl Wiring for Ls652 {
    fn wire(&self) -> Ls652Wiring {
        let (stored_a, stored_b) = (self.sab.level().is_high(), self.sba.level().is_high());
        Ls652Wiring {
            from_a: each(|i| on(self.cab.rises()).load(self.a[i].level())),
            from_b: each(|i| on(self.cba.rises()).load(self.b[i].level())),
            a: each(|i| driven(choose(stored_b, self.from_b[i].q(), self.b[i].level()), self.gba.asserted())),
            b: each(|i| driven(choose(stored_a, self.from_a[i].q(), self.a[i].level()), self.gab.asserted())),
        }
    }
}

/// Four transceivers that drive a bus from pins of their own and read it on others.
macro_rules! bus_extenders {
    ($($(#[$doc:meta])* $part:ident $type:tt: $level:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(1)] pub re: Input<ActiveLow>,
            #[contact(15)] pub be: Input<ActiveHigh>,
            #[contact(4, 7, 9, 12)] pub d: [Input<Data>; 4],
            #[contact(3, 6, 10, 13)] pub b: [InOut<Data, ThreeState>; 4],
            #[contact(2, 5, 11, 14)] pub r: [Output<Data, ThreeState>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    b: each(|i| driven($level(self.d[i].level()), self.be.asserted())),
                    r: each(|i| follow($level(self.b[i].level())).drive_while(self.re.asserted())),
                }
            }
        }
    )+};
}

bus_extenders! {
    /// Quad inverting bus transceiver with separate driver inputs and receiver outputs.
    S8T26 "8T26A": not;
    /// Quad bus transceiver with separate driver inputs and receiver outputs.
    S8T28 "8T28": as_is;
}

fn not(level: Level) -> Level {
    !level
}

fn as_is(level: Level) -> Level {
    level
}

/// 16-bit buffer, four groups of four.
#[derive(Circuit)]
#[circuit(part = "74ABT16244", vcc = [7, 18, 31, 42], gnd = [4, 10, 15, 21, 28, 34, 39, 45])]
#[rustfmt::skip]
pub struct Abt16244 {
    #[contact(1, 48, 25, 24)]  pub g:  [Input<ActiveLow>; 4],
    #[contact(47, 46, 44, 43)] pub a1: [Input<Data>; 4],
    #[contact(41, 40, 38, 37)] pub a2: [Input<Data>; 4],
    #[contact(36, 35, 33, 32)] pub a3: [Input<Data>; 4],
    #[contact(30, 29, 27, 26)] pub a4: [Input<Data>; 4],
    #[contact(2, 3, 5, 6)]     pub y1: [Output<Data, ThreeState>; 4],
    #[contact(8, 9, 11, 12)]   pub y2: [Output<Data, ThreeState>; 4],
    #[contact(13, 14, 16, 17)] pub y3: [Output<Data, ThreeState>; 4],
    #[contact(19, 20, 22, 23)] pub y4: [Output<Data, ThreeState>; 4],
}

impl Wiring for Abt16244 {
    fn wire(&self) -> Abt16244Wiring {
        let group = |a: [Input<Data>; 4], g: Input<ActiveLow>| a.map(|a| follow(a.level()).drive_while(g.asserted()));
        Abt16244Wiring {
            y1: group(self.a1, self.g[0]),
            y2: group(self.a2, self.g[1]),
            y3: group(self.a3, self.g[2]),
            y4: group(self.a4, self.g[3]),
        }
    }
}

/// 16-bit bus transceiver, two groups of eight.
#[derive(Circuit)]
#[circuit(part = "74ABT16245", vcc = [7, 18, 31, 42], gnd = [4, 10, 15, 21, 28, 34, 39, 45])]
#[rustfmt::skip]
pub struct Abt16245 {
    #[contact(1, 24)]                          pub dir: [Input<Data>; 2],
    #[contact(48, 25)]                         pub g:   [Input<ActiveLow>; 2],
    #[contact(47, 46, 44, 43, 41, 40, 38, 37)] pub a1:  [InOut<Data, ThreeState>; 8],
    #[contact(36, 35, 33, 32, 30, 29, 27, 26)] pub a2:  [InOut<Data, ThreeState>; 8],
    #[contact(2, 3, 5, 6, 8, 9, 11, 12)]       pub b1:  [InOut<Data, ThreeState>; 8],
    #[contact(13, 14, 16, 17, 19, 20, 22, 23)] pub b2:  [InOut<Data, ThreeState>; 8],
}

impl Wiring for Abt16245 {
    fn wire(&self) -> Abt16245Wiring {
        let to_b = |n: usize| self.g[n].asserted() & self.dir[n].level().is_high();
        let to_a = |n: usize| self.g[n].asserted() & self.dir[n].level().is_low();
        Abt16245Wiring {
            a1: each(|i| driven(self.b1[i].level(), to_a(0))),
            a2: each(|i| driven(self.b2[i].level(), to_a(1))),
            b1: each(|i| driven(self.a1[i].level(), to_b(0))),
            b2: each(|i| driven(self.a2[i].level(), to_b(1))),
        }
    }
}

/// 16-bit D flip-flop with three-state outputs, two groups of eight.
#[derive(Circuit)]
#[circuit(part = "74ABT16374", vcc = [7, 18, 31, 42], gnd = [4, 10, 15, 21, 28, 34, 39, 45])]
#[rustfmt::skip]
pub struct Abt16374 {
    #[contact(1, 24)]                          pub g:   [Input<ActiveLow>; 2],
    #[contact(48, 25)]                         pub clk: [Input<Clock>; 2],
    #[contact(47, 46, 44, 43, 41, 40, 38, 37)] pub d1:  [Input<Data>; 8],
    #[contact(36, 35, 33, 32, 30, 29, 27, 26)] pub d2:  [Input<Data>; 8],
    #[contact(2, 3, 5, 6, 8, 9, 11, 12)]       pub q1:  [Output<Data, ThreeState>; 8],
    #[contact(13, 14, 16, 17, 19, 20, 22, 23)] pub q2:  [Output<Data, ThreeState>; 8],
}

impl Wiring for Abt16374 {
    fn wire(&self) -> Abt16374Wiring {
        let stored =
            |n: usize, d: Input<Data>| on(self.clk[n].rises()).load(d.level()).drive_while(self.g[n].asserted());
        Abt16374Wiring { q1: self.d1.map(|d| stored(0, d)), q2: self.d2.map(|d| stored(1, d)) }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls243: "74ls243"; Ls652: "74ls652"; S8T26: "8t26a"; S8T28: "8t28"; Abt16244: "74abt16244";
    Abt16245: "74abt16245"; Abt16374: "74abt16374";
];
