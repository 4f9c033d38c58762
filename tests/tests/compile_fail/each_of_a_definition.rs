//! `each` makes a definition for each.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    a: Input<Data>,
    #[contact(8..=11)]
    y: [Output<Data>; 4],
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: each(on(self.clock.rises()).load(self.a.level())),
        }
    }
}

fn main() {}
