//! First what is followed, then what clears it.
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
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: open_while(self.reset.asserted()).clear_while(self.reset.asserted()).follow(self.a.level()),
        }
    }
}

fn main() {}
