//! `vcc` is a pin.
use gluewright::prelude::*;

#[derive(Circuit)]
#[circuit(vcc = 5.0, gnd = 12)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    a: Input<Data>,
    #[contact(4)]
    y: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.a.level()),
        }
    }
}

fn main() {}
