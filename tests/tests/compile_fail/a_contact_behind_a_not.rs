//! A contact can't be negated before it says what asserts it. (Guide page: !bare.)
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(!self.reset),
        }
    }
}

fn main() {}
