//! Several supply pins stand in one list.
use gluewright::prelude::*;

#[derive(Circuit)]
#[circuit(part = "74X1", gnd = 7, gnd = 8)]
pub struct Card {
    #[contact(4)]
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
