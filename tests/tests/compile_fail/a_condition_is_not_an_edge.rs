//! A register acts when a condition begins or ends.
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
            seen: on(self.strobe.asserted()).load(self.a.level()),
        }
    }
}

fn main() {}
