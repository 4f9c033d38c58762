//! A drive kind is not a polarity.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(2)]
    reset: Input<ThreeState>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(Assertion::ALWAYS),
        }
    }
}

fn main() {}
