//! A contact is there or it isn't.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    a: Input<Data>,
    #[contact(4)]
    y: Output<Data>,
    seen: Option<Buried<Register>>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.a.level()),
        }
    }
}

fn main() {}
