//! A register acts on a rise or a fall, not on a clock as such.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(4)]
    a: Input<Data>,
    seen: Buried<Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            seen: on(self.clock).load(self.a.level()),
        }
    }
}

fn main() {}
