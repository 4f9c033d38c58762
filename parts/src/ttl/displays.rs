//! Drivers of seven-segment displays.
use gluewright::prelude::*;

use super::Model;

/// Which of the segments a to g are lit, the lowest bit first, by the code on A to D; `tails` are those of 6 and 9.
fn segments(tails: bool) -> [u64; 16] {
    let (six, nine) = if tails { (0b111_1101, 0b110_1111) } else { (0b111_1100, 0b110_0111) };
    [
        0b011_1111, 0b000_0110, 0b101_1011, 0b100_1111, 0b110_0110, 0b110_1101, six, 0b000_0111, 0b111_1111, nine,
        0b101_1000, 0b100_1100, 0b110_0010, 0b110_1001, 0b111_1000, 0,
    ]
}

/// BCD to seven segments. BI/RBO blanks all segments while it is low, whoever pulls it; the part does so at the code 0 while
/// RBI is asserted and LT is not. LT lights all segments.
macro_rules! segment_drivers {
    ($($(#[$doc:meta])* $part:ident $type:tt: tails $tails:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(7, 1, 2, 6)] pub abcd: [Input<Data>; 4],
            #[contact(3)] pub lt: Input<ActiveLow>,
            #[contact(5)] pub rbi: Input<ActiveLow>,
            #[contact(4)] pub bi_rbo: InOut<ActiveLow, OpenCollector>,
            #[contact(13..=9, 15, 14)] pub y: [Output<ActiveLow, OpenCollector>; 7],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let (code, test) = (Word::of(self.abcd), self.lt.asserted());
                let lit = |segment: usize| {
                    let codes = segments($tails).map(|lit| if lit >> segment & 1 == 1 { Level::HIGH } else { Level::LOW });
                    code.pick(codes).is_high()
                };
                Filled {
                    bi_rbo: assert_while(!test & self.rbi.asserted() & code.is(0)),
                    y: each(|i| assert_while(!self.bi_rbo.asserted() & (test | lit(i)))),
                }
            }
        }
    )+};
}

segment_drivers! {
    /// BCD to 7-segment driver, 6 and 9 without tails.
    Ls47 "74LS47": tails false;
    /// BCD to 7-segment driver, 6 and 9 with tails.
    Ls247 "74LS247": tails true;
}

pub(super) const MODELS: &[Model] = models![Ls47: "74ls47", "7447"; Ls247: "74ls247";];
