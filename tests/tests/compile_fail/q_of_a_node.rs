//! A node has no Q: it is a net with a name.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(18)]
    data: Output<Data>,
    node: Buried<Node>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            node: follow(self.a.level()),
            data: follow(self.node.q()),
        }
    }
}

fn main() {}
