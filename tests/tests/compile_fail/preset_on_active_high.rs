//! `preset_while` is for data.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    flag: Buried<Register, ActiveHigh>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            flag: on(self.clock.rises()).load(self.strobe.asserted()).preset_while(self.reset.asserted()),
        }
    }
}

fn main() {}
