//! A contact that both sides drive must be able to let go.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(6)]
    bus: InOut<Data, PushPull>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            bus: follow(self.a.level()),
        }
    }
}

fn main() {}
