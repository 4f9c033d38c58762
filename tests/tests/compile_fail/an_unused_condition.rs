//! A condition does nothing by itself.
#![deny(warnings)]
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        self.reset.asserted() & self.strobe.asserted();
        CardWiring {
            wait: assert_while(self.strobe.asserted()),
        }
    }
}

fn main() {}
