//! Supply pins are taken.
use gluewright::prelude::*;

#[derive(Circuit)]
#[circuit(part = "74X1", vcc = 16, gnd = 8)]
pub struct Card {
    #[contact(16)]
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
