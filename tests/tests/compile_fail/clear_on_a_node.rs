//! A node holds nothing that could be cleared.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    node: Buried<Node>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            node: follow(self.a.level()).clear_while(self.reset.asserted()),
        }
    }
}

fn main() {}
