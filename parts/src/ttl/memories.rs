//! Register files: words of latches with a port to write and a port to read.
use gluewright::prelude::*;

use super::Model;

/// Four words of four bits.
macro_rules! register_files {
    ($($(#[$doc:meta])* $part:ident $type:tt: $stage:ident, $read:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Circuit)]
        #[circuit(part = $type, vcc = 16, gnd = 8)]
        pub struct $part {
            #[contact(15, 1, 2, 3)] pub d: [Input<Data>; 4],
            #[contact(14, 13)] pub w: [Input<Data>; 2],
            #[contact(12)] pub gw: Input<ActiveLow>,
            #[contact(5, 4)] pub r: [Input<Data>; 2],
            #[contact(11)] pub gr: Input<ActiveLow>,
            #[contact(10, 9, 7, 6)] pub q: [Output<Data, $stage>; 4],
            cell: [Buried<Latch>; 16],
        }

        impl Wiring for $part {
            fn wire(&self) -> <Self as Circuit>::Wiring {
                type Filled = <$part as Circuit>::Wiring;
                let (write, read) = (Word::of(self.w), Word::of(self.r));
                let words = [0, 4, 8, 12].map(|at| Word::<4>::from_fn(|i| self.cell[at + i].q()));
                let word = read.pick(words);
                Filled {
                    cell: each(|i| {
                        let writing = self.gw.asserted() & write.is((i / 4) as u64);
                        open_while(writing).follow(self.d[i % 4].level())
                    }),
                    q: each(|i| $read(word[i], self.gr.asserted())),
                }
            }
        }
    )+};
}

register_files! {
    /// 4 by 4 register file, open-collector outputs.
    Ls170 "74LS170": OpenCollector, high_unless_read;
    /// 4 by 4 register file, three-state outputs.
    Ls670 "74LS670": ThreeState, floating_unless_read;
}

fn high_unless_read(level: Level, reading: Assertion) -> Definition<Output<Data, OpenCollector>> {
    follow(low_while(reading & level.is_low()))
}

fn floating_unless_read(level: Level, reading: Assertion) -> Definition<Output<Data, ThreeState>> {
    follow(level).drive_while(reading)
}

pub(super) const MODELS: &[Model] = models![Ls170: "74ls170"; Ls670: "74ls670";];
