//! A field type that nobody knows.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(18)]
    data: Ouput<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: follow(self.a.level()),
        }
    }
}

fn main() {}
