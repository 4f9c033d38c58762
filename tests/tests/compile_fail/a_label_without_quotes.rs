//! A label that is not a number stands in quotes.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(A12)]
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
