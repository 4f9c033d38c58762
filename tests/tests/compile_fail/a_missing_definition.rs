//! Each output and each buried element needs its definition.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(17)]
    wait: Output<ActiveLow>,
    seen: Buried<Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(self.a.level().is_high()),
        }
    }
}

fn main() {}
