//! A buried element has no pin.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(4)]
    a: Input<Data>,
    #[contact(7)]
    seen: Buried<Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            seen: on(self.clock.rises()).load(self.a.level()),
        }
    }
}

fn main() {}
