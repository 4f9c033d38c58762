//! Adders, arithmetic logic unit, comparators and parity.
use gluewright::prelude::*;

use super::Model;

/// Four-bit adders: S is A plus B plus the carry in.
macro_rules! adders {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: a($($a:tt),+), b($($b:tt),+), c0($c0:tt), s($($s:tt),+), c4($c4:tt), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($($a),+)] pub a: [Input<Data>; 4],
            #[contact($($b),+)] pub b: [Input<Data>; 4],
            #[contact($c0)] pub c0: Input<Data>,
            #[contact($($s),+)] pub s: [Output<Data>; 4],
            #[contact($c4)] pub c4: Output<Data>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let (sum, carry) = Word::of(self.a).plus_with_carry(Word::of(self.b), self.c0.level().is_high());
                Filled { s: each(|i| follow(sum[i])), c4: follow(high_while(carry)) }
            }
        }
    )+};
}

adders! {
    /// 4-bit adder, supplied at pins 5 and 12.
    Ls83 "74LS83": a(10, 8, 3, 1), b(11, 7, 4, 16), c0(13), s(9, 6, 2, 15), c4(14), vcc 5, gnd 12;
    /// 4-bit adder.
    Ls283 "74LS283": a(5, 3, 14, 12), b(6, 2, 15, 11), c0(7), s(4, 1, 13, 10), c4(9), vcc 16, gnd 8;
}

/// 4-bit arithmetic logic unit.
///
/// Read as active-high data: S makes of A and B two addends, `x` and `y`. While M is low F is their sum, with a carry
/// in while CN is low; while M is high F is their equivalence, bit by bit.
#[derive(Circuit)]
#[circuit(part = "74LS181", vcc = 24, gnd = 12)]
#[rustfmt::skip]
pub struct Ls181 {
    #[contact(2, 23, 21, 19)] pub a:    [Input<Data>; 4],
    #[contact(1, 22, 20, 18)] pub b:    [Input<Data>; 4],
    #[contact(6..=3)]         pub s:    [Input<Data>; 4],
    #[contact(7)]             pub cn:   Input<Data>,
    #[contact(8)]             pub m:    Input<Data>,
    #[contact(9..=11, 13)]    pub f:    [Output<Data>; 4],
    #[contact(14)]            pub aeqb: Output<ActiveHigh, OpenCollector>,
    #[contact(15)]            pub p:    Output<ActiveLow>,
    #[contact(17)]            pub g:    Output<ActiveLow>,
    #[contact(16)]            pub cn4:  Output<Data>,
}

impl Wiring for Ls181 {
    fn wire(&self) -> Ls181Wiring {
        let [s0, s1, s2, s3] = self.s.map(|s| s.level().is_high());
        let ab = |i: usize| (self.a[i].level().is_high(), self.b[i].level().is_high());
        let x = Word::<4>::from_fn(|i| {
            let (a, b) = ab(i);
            high_while(a | (b & s0) | (!b & s1))
        });
        let y = Word::<4>::from_fn(|i| {
            let (a, b) = ab(i);
            high_while(a & ((b & s3) | (!b & s2)))
        });
        let (sum, carry) = x.plus_with_carry(y, self.cn.level().is_low());
        let (_, carry_after_carry) = x.plus_with_carry(y, Assertion::ALWAYS);
        let f = choose(self.m.level().is_high(), !(x ^ y), sum);
        Ls181Wiring {
            f: each(|i| follow(f[i])),
            aeqb: assert_while(f.is(15)),
            p: assert_while(y.is(0)),
            g: assert_while(!carry_after_carry),
            cn4: follow(low_while(carry)),
        }
    }
}

/// Look-ahead carry generator for four groups of an adder.
///
/// A carry leaves a group that generates one, or that propagates the carry it gets.
#[derive(Circuit)]
#[circuit(part = "74S182", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct S182 {
    #[contact(4, 2, 15, 6)] pub p:         [Input<ActiveLow>; 4],
    #[contact(3, 1, 14, 5)] pub g:         [Input<ActiveLow>; 4],
    #[contact(13)]          pub cn:        Input<Data>,
    #[contact(12, 11, 9)]   pub cnxyz:     [Output<Data>; 3],
    #[contact(7)]           pub propagate: Output<ActiveLow>,
    #[contact(10)]          pub generate:  Output<ActiveLow>,
}

impl Wiring for S182 {
    fn wire(&self) -> S182Wiring {
        let after = |groups: usize, carry_in: Assertion| {
            (0..groups).fold(carry_in, |carry, i| self.g[i].asserted() | (self.p[i].asserted() & carry))
        };
        S182Wiring {
            cnxyz: each(|i| follow(high_while(after(i + 1, self.cn.level().is_high())))),
            propagate: assert_while(self.p.into_iter().fold(Assertion::ALWAYS, |all, p| all & p.asserted())),
            generate: assert_while(after(4, Assertion::NEVER)),
        }
    }
}

/// 4-bit magnitude comparator that can be cascaded.
#[derive(Circuit)]
#[circuit(part = "74LS85", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls85 {
    #[contact(10, 12, 13, 15)] pub a:       [Input<Data>; 4],
    #[contact(9, 11, 14, 1)]   pub b:       [Input<Data>; 4],
    #[contact(2)]              pub altb_in: Input<ActiveHigh>,
    #[contact(3)]              pub aeqb_in: Input<ActiveHigh>,
    #[contact(4)]              pub agtb_in: Input<ActiveHigh>,
    #[contact(5)]              pub agtb:    Output<ActiveHigh>,
    #[contact(6)]              pub aeqb:    Output<ActiveHigh>,
    #[contact(7)]              pub altb:    Output<ActiveHigh>,
}

impl Wiring for Ls85 {
    fn wire(&self) -> Ls85Wiring {
        let (a, b) = (Word::of(self.a), Word::of(self.b));
        let equal = a.equals(b);
        let (less_below, equal_below) = (self.altb_in.asserted(), self.aeqb_in.asserted());
        let greater_below = self.agtb_in.asserted();
        Ls85Wiring {
            agtb: assert_while(a.greater_than(b) | (equal & !less_below & !equal_below)),
            aeqb: assert_while(equal & equal_below),
            altb: assert_while(a.less_than(b) | (equal & !greater_below & !equal_below)),
        }
    }
}

/// 8-bit identity comparator with enable.
#[derive(Circuit)]
#[circuit(part = "74LS688", vcc = 20, gnd = 10)]
#[rustfmt::skip]
pub struct Ls688 {
    #[contact(1)]                            pub g:    Input<ActiveLow>,
    #[contact(2, 4, 6, 8, 11, 13, 15, 17)]   pub p:    [Input<Data>; 8],
    #[contact(3, 5, 7, 9, 12, 14, 16, 18)]   pub q:    [Input<Data>; 8],
    #[contact(19)]                           pub peqq: Output<ActiveLow>,
}

impl Wiring for Ls688 {
    fn wire(&self) -> Ls688Wiring {
        Ls688Wiring { peqq: assert_while(self.g.asserted() & Word::of(self.p).equals(Word::of(self.q))) }
    }
}

/// 8-bit parity generator and checker with two steering inputs.
#[derive(Circuit)]
#[circuit(part = "74180", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Std180 {
    #[contact(8..=13, 1, 2)] pub abcdefgh: [Input<Data>; 8],
    #[contact(3)]            pub even:     Input<Data>,
    #[contact(4)]            pub odd:      Input<Data>,
    #[contact(5)]            pub seven:    Output<Data>,
    #[contact(6)]            pub sodd:     Output<Data>,
}

impl Wiring for Std180 {
    fn wire(&self) -> Std180Wiring {
        let is_odd = Word::of(self.abcdefgh).has_odd_parity();
        Std180Wiring {
            seven: follow(choose(is_odd, !self.even.level(), !self.odd.level())),
            sodd: follow(choose(is_odd, !self.odd.level(), !self.even.level())),
        }
    }
}

/// 9-bit parity generator and checker.
#[derive(Circuit)]
#[circuit(part = "74LS280", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls280 {
    #[contact(8..=13, 1, 2, 4)] pub abcdefghi: [Input<Data>; 9],
    #[contact(5)]               pub seven:     Output<Data>,
    #[contact(6)]               pub sodd:      Output<Data>,
}

impl Wiring for Ls280 {
    fn wire(&self) -> Ls280Wiring {
        let is_odd = Word::of(self.abcdefghi).has_odd_parity();
        Ls280Wiring { seven: follow(low_while(is_odd)), sodd: follow(high_while(is_odd)) }
    }
}

/// 8-bit identity comparator with enable, A and B.
#[derive(Circuit)]
#[circuit(part = "74F521", vcc = 20, gnd = 10)]
#[rustfmt::skip]
pub struct F521 {
    #[contact(1)]                          pub iab: Input<ActiveLow>,
    #[contact(2, 4, 6, 8, 11, 13, 15, 17)] pub a:   [Input<Data>; 8],
    #[contact(3, 5, 7, 9, 12, 14, 16, 18)] pub b:   [Input<Data>; 8],
    #[contact(19)]                         pub oab: Output<ActiveLow>,
}

impl Wiring for F521 {
    fn wire(&self) -> F521Wiring {
        F521Wiring { oab: assert_while(self.iab.asserted() & Word::of(self.a).equals(Word::of(self.b))) }
    }
}

/// 9-bit parity generator and checker with a parity pin for a bus.
///
/// While XMIT is asserted the pin is high for an even number of highs at the nine inputs, and there is no error. Else
/// PARITY_ERROR is low while the nine and the pin together have an even number of highs: the pin is not what a sender makes.
#[derive(Circuit)]
#[circuit(part = "74AS286", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct As286 {
    #[contact(8..=13, 1, 2, 4)] pub abcdefghi:    [Input<Data>; 9],
    #[contact(3)]               pub xmit:         Input<ActiveLow>,
    #[contact(5)]               pub parity_error: Output<ActiveLow>,
    #[contact(6)]               pub parity_io:    InOut<Data, ThreeState>,
}

impl Wiring for As286 {
    fn wire(&self) -> As286Wiring {
        let odd = Word::of(self.abcdefghi).has_odd_parity();
        let sends = self.xmit.asserted();
        As286Wiring {
            parity_io: follow(low_while(odd)).drive_while(sends),
            parity_error: assert_while(!sends & !(odd ^ self.parity_io.level().is_high())),
        }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls83: "74ls83"; Ls85: "74ls85"; Std180: "74180"; Ls181: "74ls181"; S182: "74s182"; Ls280: "74ls280"; Ls283: "74ls283";
    Ls688: "74ls688";
    F521: "74f521"; As286: "74as286";
];
