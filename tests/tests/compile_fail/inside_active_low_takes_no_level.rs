//! An input with polarity takes a condition.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Bit {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    clear: Input<ActiveLow>,
    #[contact(3)]
    q: Output<Data>,
}

impl Wiring for Bit {
    fn wire(&self) -> BitWiring {
        BitWiring { q: on(self.clock.rises()).toggle().clear_while(self.clear.asserted()) }
    }
}

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    clear: Input<ActiveHigh>,
    #[contact(3)]
    q: Output<Data>,
    #[circuit]
    bit: Bit,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            bit: BitInputs { clock: wired_to(self.clock), clear: follow(Level::LOW) },
            q: wired_to(self.bit.q),
        }
    }
}

fn main() {}
