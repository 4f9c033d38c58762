//! A contact has one resistor.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(8, pull_up, pull_down)]
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
