//! A word is made of data.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(8..=9)]
    a: [Input<ActiveLow>; 2],
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(Word::of(self.a).is(3)),
        }
    }
}

fn main() {}
