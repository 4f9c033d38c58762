//! A field is a contact or a buried element.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(18)]
    data: Output<Data>,
    count: u8,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: follow(self.a.level()),
        }
    }
}

fn main() {}
