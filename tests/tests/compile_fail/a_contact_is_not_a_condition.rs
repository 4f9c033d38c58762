//! A contact is not a condition by itself.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(4)]
    a: Input<Data>,
    seen: Buried<Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            seen: on(self.clock.rises()).load(self.a.level()).clear_while(self.reset),
        }
    }
}

fn main() {}
