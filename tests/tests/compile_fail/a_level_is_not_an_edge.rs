//! A register acts on a rise or a fall, not on a level.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(4)]
    a: Input<Data>,
    seen: Buried<Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            seen: on(self.strobe.level()).load(self.a.level()),
        }
    }
}

fn main() {}
