//! Latches: open while their enable is asserted, or set and reset by levels.
use gluewright::prelude::*;

use super::{Model, inverted, same};

/// Four latches, one enable for each pair, with complementary outputs.
macro_rules! quad_latches {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: c($($c:tt),+), d($($d:tt),+), q($($q:tt),+), q_n($($q_n:tt),+), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($($c),+)] pub c: [Input<ActiveHigh>; 2],
            #[contact($($d),+)] pub d: [Input<Data>; 4],
            #[contact($($q),+)] pub q: [Output<Data>; 4],
            #[contact($($q_n),+)] pub q_n: [Output<Data>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    q: each(|i| open_while(self.c[i / 2].asserted()).follow(self.d[i].level())),
                    q_n: each(|i| follow(!self.q[i].level())),
                }
            }
        }
    )+};
}

quad_latches! {
    /// Quad latch with complementary outputs, supplied at pins 5 and 12.
    Ls75 "74LS75": c(13, 4), d(2, 3, 6, 7), q(16, 15, 10, 9), q_n(1, 14, 11, 8), vcc 5, gnd 12;
    /// Quad latch with complementary outputs.
    Ls375 "74LS375": c(4, 12), d(1, 7, 9, 15), q(3, 5, 11, 13), q_n(2, 6, 10, 14), vcc 16, gnd 8;
}

/// Quad latch, supplied at pins 4 and 11.
#[derive(Circuit)]
#[circuit(part = "74LS77", vcc = 4, gnd = 11)]
#[rustfmt::skip]
pub struct Ls77 {
    #[contact(12, 3)]       pub c: [Input<ActiveHigh>; 2],
    #[contact(1, 2, 5, 6)]  pub d: [Input<Data>; 4],
    #[contact(14, 13, 9, 8)] pub q: [Output<Data>; 4],
}

impl Wiring for Ls77 {
    fn wire(&self) -> Ls77Wiring {
        Ls77Wiring { q: each(|i| open_while(self.c[i / 2].asserted()).follow(self.d[i].level())) }
    }
}

/// Eight latches with a common enable and three-state outputs.
macro_rules! octal_latches {
    ($($(#[$doc:meta])* $part:ident $type:tt: d($($d:tt),+) to $q:ident($($pin:tt),+), $level:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 20, gnd = 10)]
        pub struct $part {
            #[contact(1)] pub oe: Input<ActiveLow>,
            #[contact(11)] pub le: Input<ActiveHigh>,
            #[contact($($d),+)] pub d: [Input<Data>; 8],
            #[contact($($pin),+)] pub $q: [Output<Data, ThreeState>; 8],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    $q: each(|i| {
                        open_while(self.le.asserted()).follow($level(self.d[i])).drive_while(self.oe.asserted())
                    }),
                }
            }
        }
    )+};
}

octal_latches! {
    /// Octal latch, three-state outputs with a high level for MOS inputs.
    Ls363 "74LS363": d(3, 4, 7, 8, 13, 14, 17, 18) to q(2, 5, 6, 9, 12, 15, 16, 19), same;
    /// Octal latch, three-state outputs.
    Ls373 "74LS373": d(3, 4, 7, 8, 13, 14, 17, 18) to q(2, 5, 6, 9, 12, 15, 16, 19), same;
    /// Octal latch, inverting three-state outputs.
    Ls533 "74LS533": d(3, 4, 7, 8, 13, 14, 17, 18) to q_n(2, 5, 6, 9, 12, 15, 16, 19), inverted;
    /// Octal latch, inverting three-state outputs opposite to their inputs.
    Ls563 "74LS563": d(2, 3, 4, 5, 6, 7, 8, 9) to q_n(19, 18, 17, 16, 15, 14, 13, 12), inverted;
    /// Octal latch, three-state outputs opposite to their inputs.
    Ls573 "74LS573": d(2, 3, 4, 5, 6, 7, 8, 9) to q(19, 18, 17, 16, 15, 14, 13, 12), same;
}

/// 8-bit addressable latch: the addressed one follows D, clear makes all others low.
#[derive(Circuit)]
#[circuit(part = "74LS259", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls259 {
    #[contact(1..=3)]         pub s:   [Input<Data>; 3],
    #[contact(13)]            pub d:   Input<Data>,
    #[contact(14)]            pub g:   Input<ActiveLow>,
    #[contact(15)]            pub clr: Input<ActiveLow>,
    #[contact(4..=7, 9..=12)] pub q:   [Output<Data>; 8],
}

impl Wiring for Ls259 {
    fn wire(&self) -> Ls259Wiring {
        let address = Word::of(self.s);
        Ls259Wiring {
            q: each(|i| {
                let addressed = self.g.asserted() & address.is(i as u64);
                open_while(addressed).follow(self.d.level()).clear_while(self.clr.asserted() & !addressed)
            }),
        }
    }
}

/// Quad set-reset latch of cross-coupled gates, two of them with two set inputs. Q is high while set and reset are both
/// asserted.
#[derive(Circuit)]
#[circuit(part = "74LS279", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls279 {
    #[contact(1, 5, 10, 14)] pub r:  [Input<ActiveLow>; 4],
    #[contact(2, 3)]         pub s1: [Input<ActiveLow>; 2],
    #[contact(6)]            pub s2: Input<ActiveLow>,
    #[contact(11, 12)]       pub s3: [Input<ActiveLow>; 2],
    #[contact(15)]           pub s4: Input<ActiveLow>,
    #[contact(4, 7, 9, 13)]  pub q:  [Output<Data>; 4],
    other_gate: [Buried<Node>; 4],
}

impl Wiring for Ls279 {
    fn wire(&self) -> Ls279Wiring {
        let either = |s: [Input<ActiveLow>; 2]| s[0].asserted() | s[1].asserted();
        let set = [either(self.s1), self.s2.asserted(), either(self.s3), self.s4.asserted()];
        Ls279Wiring {
            q: each(|i| follow(high_while(set[i] | self.other_gate[i].level().is_low()))),
            other_gate: each(|i| follow(high_while(self.r[i].asserted() | self.q[i].level().is_low()))),
        }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls75: "74ls75"; Ls77: "74ls77"; Ls259: "74ls259"; Ls279: "74ls279"; Ls363: "74ls363"; Ls373: "74ls373";
    Ls375: "74ls375"; Ls533: "74ls533"; Ls563: "74ls563"; Ls573: "74ls573";
];
