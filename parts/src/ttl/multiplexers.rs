//! Multiplexers: a number, or a select input, picks which input an output follows.
use gluewright::prelude::*;

use super::Model;

/// 8-to-1 multiplexer with strobe and complementary outputs.
#[derive(Circuit)]
#[circuit(part = "74LS151", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls151 {
    #[contact(4..=1, 15..=12)] pub d:   [Input<Data>; 8],
    #[contact(11..=9)]         pub abc: [Input<Data>; 3],
    #[contact(7)]              pub g:   Input<ActiveLow>,
    #[contact(5)]              pub y:   Output<Data>,
    #[contact(6)]              pub w:   Output<Data>,
}

impl Wiring for Ls151 {
    fn wire(&self) -> Ls151Wiring {
        let picked = Word::of(self.abc).pick(self.d.map(|d| d.level()));
        let y = high_while(self.g.asserted() & picked.is_high());
        Ls151Wiring { y: follow(y), w: follow(!y) }
    }
}

/// 8-to-1 multiplexer with complementary three-state outputs.
#[derive(Circuit)]
#[circuit(part = "74LS251", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls251 {
    #[contact(4..=1, 15..=12)] pub d:   [Input<Data>; 8],
    #[contact(11..=9)]         pub abc: [Input<Data>; 3],
    #[contact(7)]              pub g:   Input<ActiveLow>,
    #[contact(5)]              pub y:   Output<Data, ThreeState>,
    #[contact(6)]              pub w:   Output<Data, ThreeState>,
}

impl Wiring for Ls251 {
    fn wire(&self) -> Ls251Wiring {
        let picked = Word::of(self.abc).pick(self.d.map(|d| d.level()));
        let enabled = self.g.asserted();
        Ls251Wiring { y: follow(picked).drive_while(enabled), w: follow(!picked).drive_while(enabled) }
    }
}

/// 16-to-1 inverting multiplexer with strobe.
#[derive(Circuit)]
#[circuit(part = "74150", vcc = 24, gnd = 12)]
#[rustfmt::skip]
pub struct Std150 {
    #[contact(8..=1, 23..=16)] pub e:    [Input<Data>; 16],
    #[contact(15..=13, 11)]    pub abcd: [Input<Data>; 4],
    #[contact(9)]              pub g:    Input<ActiveLow>,
    #[contact(10)]             pub w:    Output<Data>,
}

impl Wiring for Std150 {
    fn wire(&self) -> Std150Wiring {
        let picked = Word::of(self.abcd).pick(self.e.map(|e| e.level()));
        Std150Wiring { w: follow(low_while(self.g.asserted() & picked.is_high())) }
    }
}

/// Two 4-to-1 multiplexers that share their select inputs, each with its strobe.
macro_rules! dual_multiplexers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stage:ident, $output:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(14, 2)] pub ab: [Input<Data>; 2],
            #[contact(1, 15)] pub g: [Input<ActiveLow>; 2],
            #[contact(6..=3)] pub c1: [Input<Data>; 4],
            #[contact(10..=13)] pub c2: [Input<Data>; 4],
            #[contact(7, 9)] pub y: [Output<Data, $stage>; 2],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let picked = [self.c1, self.c2].map(|c| Word::of(self.ab).pick(c.map(|c| c.level())));
                Filled { y: each(|i| $output(picked[i], self.g[i].asserted())) }
            }
        }
    )+};
}

dual_multiplexers! {
    /// Dual 4-to-1 multiplexer.
    Ls153 "74LS153": PushPull, low_unless;
    /// Dual 4-to-1 multiplexer, three-state outputs.
    Ls253 "74LS253": ThreeState, floating_unless;
    /// Dual 4-to-1 inverting multiplexer.
    Ls352 "74LS352": PushPull, inverted_high_unless;
    /// Dual 4-to-1 inverting multiplexer, three-state outputs.
    Ls353 "74LS353": ThreeState, inverted_floating_unless;
}

/// Four 2-to-1 multiplexers with a common select input: A while it is low, B while it is high.
macro_rules! quad_multiplexers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stage:ident, $output:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(1)] pub s: Input<Data>,
            #[contact(15)] pub g: Input<ActiveLow>,
            #[contact(2, 5, 11, 14)] pub a: [Input<Data>; 4],
            #[contact(3, 6, 10, 13)] pub b: [Input<Data>; 4],
            #[contact(4, 7, 9, 12)] pub y: [Output<Data, $stage>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let picked = choose(self.s.level().is_high(), Word::of(self.b), Word::of(self.a));
                Filled { y: each(|i| $output(picked[i], self.g.asserted())) }
            }
        }
    )+};
}

quad_multiplexers! {
    /// Quad 2-to-1 multiplexer.
    Ls157 "74LS157": PushPull, low_unless;
    /// Quad 2-to-1 inverting multiplexer.
    Ls158 "74LS158": PushPull, inverted_high_unless;
    /// Quad 2-to-1 multiplexer, three-state outputs.
    Ls257 "74LS257": ThreeState, floating_unless;
    /// Quad 2-to-1 inverting multiplexer, three-state outputs.
    Ls258 "74LS258": ThreeState, inverted_floating_unless;
}

fn low_unless(level: Level, enabled: Assertion) -> Definition<Output<Data>> {
    follow(high_while(enabled & level.is_high()))
}

fn inverted_high_unless(level: Level, enabled: Assertion) -> Definition<Output<Data>> {
    follow(low_while(enabled & level.is_high()))
}

fn floating_unless(level: Level, enabled: Assertion) -> Definition<Output<Data, ThreeState>> {
    follow(level).drive_while(enabled)
}

fn inverted_floating_unless(level: Level, enabled: Assertion) -> Definition<Output<Data, ThreeState>> {
    follow(!level).drive_while(enabled)
}

pub(super) const MODELS: &[Model] = models![
    Ls151: "74ls151"; Ls153: "74ls153"; Ls157: "74ls157"; Ls158: "74ls158"; Ls251: "74ls251"; Ls253: "74ls253";
    Ls257: "74ls257"; Ls258: "74ls258"; Ls352: "74ls352"; Ls353: "74ls353";
    Std150: "74150";
];
