//! The same with the polarity in front of it.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    a: Input<Data>,
    #[contact(4)]
    y: Output<Data>,
    seen: Buried<Register, Data, ThreeState>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.seen.q()),
            seen: on(self.clock.rises()).load(self.a.level()).drive_while(self.reset.asserted()),
        }
    }
}

fn main() {}
