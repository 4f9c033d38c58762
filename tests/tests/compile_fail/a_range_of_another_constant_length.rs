//! As many contacts as elements, also when the length is a constant.
use gluewright::prelude::*;

const WIDTH: usize = 4;

#[derive(Circuit)]
pub struct Card {
    #[contact(8..=12)]
    gauge: [Input<Data>; WIDTH],
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
