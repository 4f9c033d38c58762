//! `==` compares values of the program. (Guide page: ==.)
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(5)]
    b: Input<Data>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(self.a.level() == self.b.level()),
        }
    }
}

fn main() {}
