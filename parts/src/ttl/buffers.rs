//! Three-state buffers and line drivers, and bus transceivers.
use gluewright::prelude::*;

use super::{Model, inverted, same};

/// Four buffers, each with its own enable.
macro_rules! quad_buffers {
    ($($(#[$doc:meta])* $part:ident $type:tt: enabled $polarity:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 14, gnd = 7)]
        pub struct $part {
            #[contact(1, 4, 10, 13)] pub g: [Input<$polarity>; 4],
            #[contact(2, 5, 9, 12)] pub a: [Input<Data>; 4],
            #[contact(3, 6, 8, 11)] pub y: [Output<Data, ThreeState>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled { y: each(|i| follow(self.a[i].level()).drive_while(self.g[i].asserted())) }
            }
        }
    )+};
}

quad_buffers! {
    /// Quad buffer, enabled while low.
    Ls125 "74LS125": enabled ActiveLow;
    /// Quad buffer, enabled while high.
    Ls126 "74LS126": enabled ActiveHigh;
}

/// Eight line drivers in two sections of four, each with its enable.
macro_rules! line_drivers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $level:ident, second enabled $polarity:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 20, gnd = 10)]
        pub struct $part {
            #[contact(1)] pub g1: Input<ActiveLow>,
            #[contact(2, 4, 6, 8)] pub a1: [Input<Data>; 4],
            #[contact(18, 16, 14, 12)] pub y1: [Output<Data, ThreeState>; 4],
            #[contact(19)] pub g2: Input<$polarity>,
            #[contact(11, 13, 15, 17)] pub a2: [Input<Data>; 4],
            #[contact(9, 7, 5, 3)] pub y2: [Output<Data, ThreeState>; 4],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    y1: each(|i| follow($level(self.a1[i])).drive_while(self.g1.asserted())),
                    y2: each(|i| follow($level(self.a2[i])).drive_while(self.g2.asserted())),
                }
            }
        }
    )+};
}

line_drivers! {
    /// Octal inverting line driver.
    Ls240 "74LS240": inverted, second enabled ActiveLow;
    /// Octal line driver, one enable of each polarity.
    Ls241 "74LS241": same, second enabled ActiveHigh;
    /// Octal line driver.
    Ls244 "74LS244": same, second enabled ActiveLow;
}

/// Buffers that share two enables, both needed.
macro_rules! buffers_with_two_enables {
    ($(
        $(#[$doc:meta])*
        $part:ident $type:tt: $n:tt of y($($y:tt),+) = $level:ident(a($($a:tt),+)), g($($g:tt),+), vcc $vcc:tt, gnd $gnd:tt;
    )+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = $vcc, gnd = $gnd)]
        pub struct $part {
            #[contact($($g),+)] pub g: [Input<ActiveLow>; 2],
            #[contact($($a),+)] pub a: [Input<Data>; $n],
            #[contact($($y),+)] pub y: [Output<Data, ThreeState>; $n],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let enabled = self.g[0].asserted() & self.g[1].asserted();
                Filled { y: each(|i| follow($level(self.a[i])).drive_while(enabled)) }
            }
        }
    )+};
}

buffers_with_two_enables! {
    /// Hex buffer.
    Ls365 "74LS365": 6 of y(3, 5, 7, 9, 11, 13) = same(a(2, 4, 6, 10, 12, 14)), g(1, 15), vcc 16, gnd 8;
    /// Hex inverting buffer.
    Ls366 "74LS366": 6 of y(3, 5, 7, 9, 11, 13) = inverted(a(2, 4, 6, 10, 12, 14)), g(1, 15), vcc 16, gnd 8;
    /// Octal inverting line driver, outputs opposite to their inputs.
    Ls540 "74LS540": 8 of y(18, 17, 16, 15, 14, 13, 12, 11) = inverted(a(2, 3, 4, 5, 6, 7, 8, 9)), g(1, 19),
        vcc 20, gnd 10;
    /// Octal line driver, outputs opposite to their inputs.
    Ls541 "74LS541": 8 of y(18, 17, 16, 15, 14, 13, 12, 11) = same(a(2, 3, 4, 5, 6, 7, 8, 9)), g(1, 19),
        vcc 20, gnd 10;
    /// Hex buffer for buses.
    S8T95 "8T95": 6 of y(3, 5, 7, 9, 11, 13) = same(a(2, 4, 6, 10, 12, 14)), g(1, 15), vcc 16, gnd 8;
    /// Hex inverting buffer for buses.
    S8T96 "8T96": 6 of y(3, 5, 7, 9, 11, 13) = inverted(a(2, 4, 6, 10, 12, 14)), g(1, 15), vcc 16, gnd 8;
}

/// Six buffers in sections of four and two, each with its enable.
macro_rules! four_and_two_buffers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $level:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(1, 15)] pub g: [Input<ActiveLow>; 2],
            #[contact(2, 4, 6, 10)] pub a1: [Input<Data>; 4],
            #[contact(3, 5, 7, 9)] pub y1: [Output<Data, ThreeState>; 4],
            #[contact(12, 14)] pub a2: [Input<Data>; 2],
            #[contact(11, 13)] pub y2: [Output<Data, ThreeState>; 2],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                Filled {
                    y1: each(|i| follow($level(self.a1[i])).drive_while(self.g[0].asserted())),
                    y2: each(|i| follow($level(self.a2[i])).drive_while(self.g[1].asserted())),
                }
            }
        }
    )+};
}

four_and_two_buffers! {
    /// Hex buffer, sections of four and two.
    Ls367 "74LS367": same;
    /// Hex inverting buffer, sections of four and two.
    Ls368 "74LS368": inverted;
    /// Hex buffer for buses, sections of four and two.
    S8T97 "8T97": same;
    /// Hex inverting buffer for buses, sections of four and two.
    S8T98 "8T98": inverted;
}

/// Eight lines that are driven either way, by the level of `dir`, while `g` is asserted.
macro_rules! transceivers {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stage:ident, $line:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 20, gnd = 10)]
        pub struct $part {
            #[contact(1)] pub dir: Input<Data>,
            #[contact(2..=9)] pub a: [InOut<Data, $stage>; 8],
            #[contact(18..=11)] pub b: [InOut<Data, $stage>; 8],
            #[contact(19)] pub g: Input<ActiveLow>,
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let to_b = self.g.asserted() & self.dir.level().is_high();
                let to_a = self.g.asserted() & self.dir.level().is_low();
                Filled {
                    a: each(|i| $line(self.b[i].level(), to_a)),
                    b: each(|i| $line(self.a[i].level(), to_b)),
                }
            }
        }
    )+};
}

transceivers! {
    /// Octal bus transceiver.
    Ls245 "74LS245": ThreeState, driven;
    /// Octal inverting bus transceiver.
    Ls640 "74LS640": ThreeState, driven_inverted;
    /// Octal bus transceiver, open-collector outputs.
    Ls641 "74LS641": OpenCollector, pulled_low;
    /// Octal bus transceiver.
    Ls645 "74LS645": ThreeState, driven;
}

pub(super) fn driven(from: Level, enabled: Assertion) -> Definition<InOut<Data, ThreeState>> {
    follow(from).drive_while(enabled)
}

fn driven_inverted(from: Level, enabled: Assertion) -> Definition<InOut<Data, ThreeState>> {
    follow(!from).drive_while(enabled)
}

fn pulled_low(from: Level, enabled: Assertion) -> Definition<InOut<Data, OpenCollector>> {
    follow(low_while(enabled & from.is_low()))
}

pub(super) const MODELS: &[Model] = models![
    Ls125: "74ls125"; Ls126: "74ls126"; Ls240: "74ls240"; Ls241: "74ls241"; Ls244: "74ls244"; Ls245: "74ls245";
    Ls365: "74ls365"; Ls366: "74ls366"; Ls367: "74ls367"; Ls368: "74ls368"; Ls540: "74ls540"; Ls541: "74ls541";
    Ls640: "74ls640"; Ls641: "74ls641"; Ls645: "74ls645";
    S8T95: "8t95"; S8T96: "8t96"; S8T97: "8t97"; S8T98: "8t98";
];
