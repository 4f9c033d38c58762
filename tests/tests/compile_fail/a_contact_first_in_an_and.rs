//! A contact is not a condition, on the left of `&` either. (Guide page: bare & x.)
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
            wait: assert_while(self.reset & self.strobe.asserted()),
        }
    }
}

fn main() {}
