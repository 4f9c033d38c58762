//! Data loads a level, not a condition.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: on(self.clock.rises()).load(self.strobe.asserted()),
        }
    }
}

fn main() {}
