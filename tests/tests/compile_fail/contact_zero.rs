//! Contacts are counted from 1.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(0)]
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
