//! A type of one's own hides the crate's word. (Guide page: the word is right.)
use gluewright::prelude::*;

/// What the gauge measured.
pub struct Data;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    a: Input<Data>,
    #[contact(4)]
    y: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: assert_while(Assertion::ALWAYS),
        }
    }
}

fn main() {}
