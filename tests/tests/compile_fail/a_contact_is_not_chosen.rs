//! A multiplexer chooses between levels, not contacts.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(5)]
    b: Input<Data>,
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: follow(choose(self.strobe.asserted(), self.a, self.b)),
        }
    }
}

fn main() {}
