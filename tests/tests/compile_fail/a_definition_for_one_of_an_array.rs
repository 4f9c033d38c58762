//! An array is filled by an array: `each(…)`.
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
            y: follow(self.a.level()),
        }
    }
}

fn main() {}
