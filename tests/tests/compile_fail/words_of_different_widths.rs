//! Words that meet have the same width.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(8..=11)]
    a: [Input<Data>; 4],
    #[contact(12..=14)]
    b: [Input<Data>; 3],
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(Word::of(self.a).equals(Word::of(self.b))),
        }
    }
}

fn main() {}
