//! All contacts of a field stand in one attribute.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(8)]
    #[contact(9)]
    a: Input<Data>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: follow(self.a.level()),
        }
    }
}

fn main() {}
