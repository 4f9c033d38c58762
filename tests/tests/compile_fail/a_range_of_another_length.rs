//! As many contacts as elements.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(8..=12)]
    gauge: [Input<Data>; 4],
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(self.gauge[0].level().is_low()),
        }
    }
}

fn main() {}
