//! Priority encoders: the number of the highest input that is asserted.
use gluewright::prelude::*;

use super::Model;

/// 10-to-4 line priority encoder. No input asserted is the digit 0.
#[derive(Circuit)]
#[circuit(part = "74LS147", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls147 {
    #[contact(11..=13, 1..=5, 10)] pub i:    [Input<ActiveLow>; 9],
    #[contact(9, 7, 6, 14)]        pub abcd: [Output<ActiveLow>; 4],
}

impl Wiring for Ls147 {
    fn wire(&self) -> Ls147Wiring {
        let highest = highest(self.i);
        Ls147Wiring { abcd: each(|bit| assert_while(has_bit(bit, (1..).zip(highest)))) }
    }
}

/// 8-to-3 line priority encoder that can be cascaded.
#[derive(Circuit)]
#[circuit(part = "74LS148", vcc = 16, gnd = 8)]
#[rustfmt::skip]
pub struct Ls148 {
    #[contact(10..=13, 1..=4)] pub i:  [Input<ActiveLow>; 8],
    #[contact(5)]              pub ei: Input<ActiveLow>,
    #[contact(9, 7, 6)]        pub a:  [Output<ActiveLow>; 3],
    #[contact(14)]             pub gs: Output<ActiveLow>,
    #[contact(15)]             pub eo: Output<ActiveLow>,
}

impl Wiring for Ls148 {
    fn wire(&self) -> Ls148Wiring {
        let enabled = self.ei.asserted();
        let any = self.i.into_iter().fold(Assertion::NEVER, |any, i| any | i.asserted());
        let highest = highest(self.i);
        Ls148Wiring {
            a: each(|bit| assert_while(enabled & has_bit(bit, (0..).zip(highest)))),
            gs: assert_while(enabled & any),
            eo: assert_while(enabled & !any),
        }
    }
}

/// Each is true while its input is asserted and no higher one is.
fn highest<const N: usize>(inputs: [Input<ActiveLow>; N]) -> [Assertion; N] {
    let mut above = Assertion::NEVER;
    let mut highest = inputs.map(|i| i.asserted());
    for input in highest.iter_mut().rev() {
        let asserted = *input;
        *input = asserted & !above;
        above = above | asserted;
    }
    highest
}

/// True while the number that is true has this bit.
fn has_bit(bit: usize, numbers: impl Iterator<Item = (u32, Assertion)>) -> Assertion {
    numbers.filter(|(n, _)| n >> bit & 1 == 1).fold(Assertion::NEVER, |any, (_, this)| any | this)
}

pub(super) const MODELS: &[Model] = models![Ls147: "74ls147"; Ls148: "74ls148";];
