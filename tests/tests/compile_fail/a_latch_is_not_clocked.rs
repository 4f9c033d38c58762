//! A latch has no clock.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(4)]
    a: Input<Data>,
    held: Buried<Latch>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            held: on(self.clock.rises()).load(self.a.level()),
        }
    }
}

fn main() {}
