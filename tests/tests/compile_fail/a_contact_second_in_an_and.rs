//! A contact is not a condition, on the right of `&` either.
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
        CardWiring {
            wait: assert_while(self.strobe.asserted() & self.reset),
        }
    }
}

fn main() {}
