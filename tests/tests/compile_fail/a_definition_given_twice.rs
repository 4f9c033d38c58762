//! One definition for each element.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(self.reset.asserted()),
            wait: assert_while(self.strobe.asserted()),
        }
    }
}

fn main() {}
