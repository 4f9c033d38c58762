//! `clear_while` on an active-low register would be read as low, and be wrong.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: on(self.clock.rises()).load(self.strobe.asserted()).clear_while(self.reset.asserted()),
        }
    }
}

fn main() {}
