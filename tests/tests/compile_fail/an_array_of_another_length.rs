//! An array has one definition for each element.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(8..=11)]
    y: [Output<Data>; 4],
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: [follow(self.a.level()), follow(self.a.level())],
        }
    }
}

fn main() {}
