//! A node has no clock.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(4)]
    a: Input<Data>,
    node: Buried<Node>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            node: on(self.clock.rises()).load(self.a.level()),
        }
    }
}

fn main() {}
