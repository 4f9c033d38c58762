//! A buried element is a register, a latch or a node.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    flag: Buried<ActiveHigh>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            flag: follow(self.a.level()),
        }
    }
}

fn main() {}
