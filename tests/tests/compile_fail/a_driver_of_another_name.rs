//! The same where the derive does not see it.
use gluewright::prelude::*;

use gluewright::prelude::ThreeState as Bus;

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
    seen: Buried<Register, Data, Bus>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.seen.q()),
            seen: on(self.clock.rises()).load(self.a.level()),
        }
    }
}

fn main() {}
