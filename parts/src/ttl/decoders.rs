//! Decoders: one output of several is asserted, the one whose number stands on the inputs.
use gluewright::prelude::*;

use super::Model;

/// 3-to-8 line decoder, three enables.
#[derive(Circuit)]
#[circuit(part = "74LS138", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls138 {
    #[contact(1, 2, 3)]   pub abc: [Input<Data>; 3],
    #[contact(4)]         pub g2a: Input<ActiveLow>,
    #[contact(5)]         pub g2b: Input<ActiveLow>,
    #[contact(6)]         pub g1:  Input<ActiveHigh>,
    #[contact(15..=9, 7)] pub y:   [Output<ActiveLow>; 8],
}

impl Wiring for Ls138 {
    fn wire(&self) -> Ls138Wiring {
        let enabled = self.g1.asserted() & self.g2a.asserted() & self.g2b.asserted();
        let line = Word::of(self.abc);
        Ls138Wiring { y: each(|i| assert_while(enabled & line.is(i as u64))) }
    }
}

/// Dual 2-to-4 line decoder.
#[derive(Circuit)]
#[circuit(part = "74LS139", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls139 {
    #[contact(1, 15)]  pub g:   [Input<ActiveLow>; 2],
    #[contact(2, 3)]   pub ab1: [Input<Data>; 2],
    #[contact(14, 13)] pub ab2: [Input<Data>; 2],
    #[contact(4..=7)]  pub y1:  [Output<ActiveLow>; 4],
    #[contact(12..=9)] pub y2:  [Output<ActiveLow>; 4],
}

impl Wiring for Ls139 {
    fn wire(&self) -> Ls139Wiring {
        let [first, second] = [self.ab1, self.ab2].map(Word::of);
        Ls139Wiring {
            y1: each(|i| assert_while(self.g[0].asserted() & first.is(i as u64))),
            y2: each(|i| assert_while(self.g[1].asserted() & second.is(i as u64))),
        }
    }
}

/// 4-to-16 line decoder, two enables.
#[derive(Circuit)]
#[circuit(part = "74LS154", vcc = 24, gnd = 12)]
#[rustfmt::skip]
pub struct Ls154 {
    #[contact(18, 19)]          pub g:    [Input<ActiveLow>; 2],
    #[contact(23..=20)]         pub abcd: [Input<Data>; 4],
    #[contact(1..=11, 13..=17)] pub y:    [Output<ActiveLow>; 16],
}

impl Wiring for Ls154 {
    fn wire(&self) -> Ls154Wiring {
        let enabled = self.g[0].asserted() & self.g[1].asserted();
        let line = Word::of(self.abcd);
        Ls154Wiring { y: each(|i| assert_while(enabled & line.is(i as u64))) }
    }
}

/// BCD-to-decimal decoders: no output is asserted for 10 to 15.
macro_rules! decimal_decoders {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stage:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(15..=12)] pub abcd: [Input<Data>; 4],
            #[contact(1..=7, 9..=11)] pub y: [Output<ActiveLow, $stage>; 10],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let digit = Word::of(self.abcd);
                Filled { y: each(|i| assert_while(digit.is(i as u64))) }
            }
        }
    )+};
}

decimal_decoders! {
    /// BCD-to-decimal decoder.
    Ls42 "74LS42": PushPull;
    /// BCD-to-decimal decoder, open-collector outputs for 15 V and 80 mA.
    Ls145 "74LS145": OpenCollector;
}

/// Two 2-to-4 line decoders that share their inputs and have enables of different polarity.
macro_rules! demultiplexers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stage:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(13, 3)] pub ab: [Input<Data>; 2],
            #[contact(1)] pub c1: Input<ActiveHigh>,
            #[contact(2)] pub g1: Input<ActiveLow>,
            #[contact(15)] pub c2: Input<ActiveLow>,
            #[contact(14)] pub g2: Input<ActiveLow>,
            #[contact(7..=4)] pub y1: [Output<ActiveLow, $stage>; 4],
            #[contact(9..=12)] pub y2: [Output<ActiveLow, $stage>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let line = Word::of(self.ab);
                let first = self.g1.asserted() & self.c1.asserted();
                let second = self.g2.asserted() & self.c2.asserted();
                Filled {
                    y1: each(|i| assert_while(first & line.is(i as u64))),
                    y2: each(|i| assert_while(second & line.is(i as u64))),
                }
            }
        }
    )+};
}

demultiplexers! {
    /// Dual 2-to-4 line decoder and demultiplexer.
    Ls155 "74LS155": PushPull;
    /// Dual 2-to-4 line decoder and demultiplexer, open-collector outputs.
    Ls156 "74LS156": OpenCollector;
}

pub(super) const MODELS: &[Model] = models![
    Ls42: "74ls42"; Ls138: "74ls138"; Ls139: "74ls139"; Ls145: "74ls145"; Ls154: "74ls154"; Ls155: "74ls155";
    Ls156: "74ls156";
];
