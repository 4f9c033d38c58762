//! Flip-flops with clock, set and reset of their own, or shared by the two in a package.
use gluewright::prelude::*;

use super::Model;

/// Dual D flip-flop with preset and clear.
#[derive(Circuit)]
#[circuit(part = "74LS74", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Ls74 {
    #[contact(3, 11)] pub clk: [Input<Clock>; 2],
    #[contact(2, 12)] pub d:   [Input<Data>; 2],
    #[contact(4, 10)] pub pre: [Input<ActiveLow>; 2],
    #[contact(1, 13)] pub clr: [Input<ActiveLow>; 2],
    #[contact(5, 9)]  pub q:   [Output<Data>; 2],
    #[contact(6, 8)]  pub q_n: [Output<Data>; 2],
    state: [Buried<Register>; 2],
}

impl Wiring for Ls74 {
    fn wire(&self) -> Ls74Wiring {
        Ls74Wiring {
            state: each(|i| {
                on(self.clk[i].rises())
                    .load(self.d[i].level())
                    .preset_while(self.pre[i].asserted())
                    .clear_while(self.clr[i].asserted())
            }),
            q: each(|i| follow(self.state[i].q())),
            q_n: each(|i| follow(self.state[i].q_inverted())),
        }
    }
}

/// Dual J-K flip-flop with preset and clear; K is asserted while low.
#[derive(Circuit)]
#[circuit(part = "74LS109", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls109 {
    #[contact(4, 12)] pub clk: [Input<Clock>; 2],
    #[contact(2, 14)] pub j:   [Input<ActiveHigh>; 2],
    #[contact(3, 13)] pub k_n: [Input<ActiveLow>; 2],
    #[contact(5, 11)] pub pre: [Input<ActiveLow>; 2],
    #[contact(1, 15)] pub clr: [Input<ActiveLow>; 2],
    #[contact(6, 10)] pub q:   [Output<Data>; 2],
    #[contact(7, 9)]  pub q_n: [Output<Data>; 2],
    state: [Buried<Register>; 2],
}

impl Wiring for Ls109 {
    fn wire(&self) -> Ls109Wiring {
        Ls109Wiring {
            state: each(|i| {
                on(self.clk[i].rises())
                    .jk(self.j[i].asserted(), self.k_n[i].asserted())
                    .preset_while(self.pre[i].asserted())
                    .clear_while(self.clr[i].asserted())
            }),
            q: each(|i| follow(self.state[i].q())),
            q_n: each(|i| follow(self.state[i].q_inverted())),
        }
    }
}

/// Dual J-K flip-flops that act on the falling edge of their own clocks, with what else they have.
macro_rules! jk_flip_flops {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: clk($($clk:tt),+), j($($j:tt),+), k($($k:tt),+), q($($q:tt),+), q_n($($q_n:tt),+)
            $(, {$also:ident: $override:ident($($pin:tt),+)})+, vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($($clk),+)] pub clk: [Input<Clock>; 2],
            #[contact($($j),+)] pub j: [Input<ActiveHigh>; 2],
            #[contact($($k),+)] pub k: [Input<ActiveHigh>; 2],
            $(#[contact($($pin),+)] pub $also: [Input<ActiveLow>; 2],)+
            #[contact($($q),+)] pub q: [Output<Data>; 2],
            #[contact($($q_n),+)] pub q_n: [Output<Data>; 2],
            state: [Buried<Register>; 2],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    state: each(|i| {
                        on(self.clk[i].falls())
                            .jk(self.j[i].asserted(), self.k[i].asserted())
                            $(.$override(self.$also[i].asserted()))+
                    }),
                    q: each(|i| follow(self.state[i].q())),
                    q_n: each(|i| follow(self.state[i].q_inverted())),
                }
            }
        }
    )+};
}

jk_flip_flops! {
    /// Dual J-K flip-flop with clear, supplied at pins 4 and 11.
    Ls73 "74LS73": clk(1, 5), j(14, 7), k(3, 10), q(12, 9), q_n(13, 8), {clr: clear_while(2, 6)}, vcc 4, gnd 11;
    /// Dual J-K flip-flop with preset and clear, supplied at pins 5 and 13.
    Ls76 "74LS76": clk(1, 6), j(4, 9), k(16, 12), q(15, 11), q_n(14, 10), {pre: preset_while(2, 7)}, {clr: clear_while(3, 8)},
        vcc 5, gnd 13;
    /// Dual J-K flip-flop with clear.
    Ls107 "74LS107": clk(12, 9), j(1, 8), k(4, 11), q(3, 5), q_n(2, 6), {clr: clear_while(13, 10)}, vcc 14, gnd 7;
    /// Dual J-K flip-flop with preset and clear.
    Ls112 "74LS112": clk(1, 13), j(3, 11), k(2, 12), q(5, 9), q_n(6, 7), {pre: preset_while(4, 10)},
        {clr: clear_while(15, 14)}, vcc 16, gnd 8;
    /// Dual J-K flip-flop with preset.
    Ls113 "74LS113": clk(1, 13), j(3, 11), k(2, 12), q(5, 9), q_n(6, 8), {pre: preset_while(4, 10)}, vcc 14, gnd 7;
}

/// Dual J-K flip-flops that share clock and clear.
macro_rules! jk_flip_flops_with_common_clock {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: clk($clk:tt), clr($clr:tt), j($($j:tt),+), k($($k:tt),+), pre($($pre:tt),+), q($($q:tt),+),
            q_n($($q_n:tt),+), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($clk)] pub clk: Input<Clock>,
            #[contact($clr)] pub clr: Input<ActiveLow>,
            #[contact($($j),+)] pub j: [Input<ActiveHigh>; 2],
            #[contact($($k),+)] pub k: [Input<ActiveHigh>; 2],
            #[contact($($pre),+)] pub pre: [Input<ActiveLow>; 2],
            #[contact($($q),+)] pub q: [Output<Data>; 2],
            #[contact($($q_n),+)] pub q_n: [Output<Data>; 2],
            state: [Buried<Register>; 2],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    state: each(|i| {
                        on(self.clk.falls())
                            .jk(self.j[i].asserted(), self.k[i].asserted())
                            .preset_while(self.pre[i].asserted())
                            .clear_while(self.clr.asserted())
                    }),
                    q: each(|i| follow(self.state[i].q())),
                    q_n: each(|i| follow(self.state[i].q_inverted())),
                }
            }
        }
    )+};
}

jk_flip_flops_with_common_clock! {
    /// Dual J-K flip-flop with preset, common clear and common clock, supplied at pins 4 and 11.
    Ls78 "74LS78": clk(1), clr(5), j(3, 10), k(14, 7), pre(2, 6), q(13, 8), q_n(12, 9), vcc 4, gnd 11;
    /// Dual J-K flip-flop with preset, common clear and common clock.
    Ls114 "74LS114": clk(13), clr(1), j(3, 11), k(2, 12), pre(4, 10), q(5, 9), q_n(6, 8), vcc 14, gnd 7;
}

/// Dual D flip-flop with set and reset, all asserted while high.
#[derive(Circuit)]
#[circuit(part = "CD4013", vcc = 14, gnd = 7)]
#[rustfmt::skip]
pub struct Cd4013 {
    #[contact(3, 11)] pub clk: [Input<Clock>; 2],
    #[contact(5, 9)]  pub d:   [Input<Data>; 2],
    #[contact(6, 8)]  pub s:   [Input<ActiveHigh>; 2],
    #[contact(4, 10)] pub r:   [Input<ActiveHigh>; 2],
    #[contact(1, 13)] pub q:   [Output<Data>; 2],
    #[contact(2, 12)] pub q_n: [Output<Data>; 2],
    state: [Buried<Register>; 2],
}

impl Wiring for Cd4013 {
    fn wire(&self) -> Cd4013Wiring {
        Cd4013Wiring {
            state: each(|i| {
                on(self.clk[i].rises())
                    .load(self.d[i].level())
                    .preset_while(self.s[i].asserted())
                    .clear_while(self.r[i].asserted())
            }),
            q: each(|i| follow(self.state[i].q())),
            q_n: each(|i| follow(self.state[i].q_inverted())),
        }
    }
}

/// Dual J-K flip-flop with set and reset, all asserted while high.
#[derive(Circuit)]
#[circuit(part = "CD4027", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Cd4027 {
    #[contact(3, 13)] pub clk: [Input<Clock>; 2],
    #[contact(6, 10)] pub j:   [Input<Data>; 2],
    #[contact(5, 11)] pub k:   [Input<Data>; 2],
    #[contact(7, 9)]  pub s:   [Input<ActiveHigh>; 2],
    #[contact(4, 12)] pub r:   [Input<ActiveHigh>; 2],
    #[contact(1, 15)] pub q:   [Output<Data>; 2],
    #[contact(2, 14)] pub q_n: [Output<Data>; 2],
    state: [Buried<Register>; 2],
}

impl Wiring for Cd4027 {
    fn wire(&self) -> Cd4027Wiring {
        Cd4027Wiring {
            state: each(|i| {
                on(self.clk[i].rises())
                    .jk(self.j[i].level().is_high(), self.k[i].level().is_high())
                    .preset_while(self.s[i].asserted())
                    .clear_while(self.r[i].asserted())
            }),
            q: each(|i| follow(self.state[i].q())),
            q_n: each(|i| follow(self.state[i].q_inverted())),
        }
    }
}

pub(super) const MODELS: &[Model] = models![
    Ls73: "74ls73"; Ls74: "74ls74"; Ls76: "74ls76"; Ls78: "74ls78"; Ls107: "74ls107"; Ls109: "74ls109";
    Ls112: "74ls112"; Ls113: "74ls113"; Ls114: "74ls114";
    Cd4013: "cd4013"; Cd4027: "cd4027";
];
