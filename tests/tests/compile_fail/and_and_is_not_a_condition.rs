//! `&&` works on values of the program. (Guide page: &&.)
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
            wait: assert_while(self.reset.asserted() && self.strobe.asserted()),
        }
    }
}

fn main() {}
