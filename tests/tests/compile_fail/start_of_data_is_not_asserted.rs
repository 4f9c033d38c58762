//! Data starts low or high.
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
            seen: on(self.clock.rises()).load(self.a.level()).starts_asserted(),
        }
    }
}

fn main() {}
