//! An open-collector output has no enable: its condition is one.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(18)]
    irq: Output<ActiveLow, OpenCollector>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            irq: assert_while(self.strobe.asserted()).drive_while(self.reset.asserted()),
        }
    }
}

fn main() {}
