//! One contact for one field.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(8, 9)]
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
