//! An input is driven by the board.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(4)]
    a: Input<Data>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(self.strobe.asserted()),
            a: follow(Level::LOW),
        }
    }
}

fn main() {}
