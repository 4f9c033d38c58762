//! First what is loaded, then when it drives.
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
    y: Output<Data, ThreeState>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: on(self.clock.rises()).drive_while(self.reset.asserted()).load(self.a.level()),
        }
    }
}

fn main() {}
