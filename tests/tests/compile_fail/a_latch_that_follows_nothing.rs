//! `open_while(…)` waits for what to follow.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    held: Buried<Latch>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            held: open_while(self.strobe.asserted()),
        }
    }
}

fn main() {}
