//! A push-pull output can't be turned off.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: follow(self.a.level()).drive_while(self.reset.asserted()),
        }
    }
}

fn main() {}
