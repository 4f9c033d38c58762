//! `true` is a value of the program, not of the circuit.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(17)]
    wait: Output<ActiveLow>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            wait: assert_while(true),
        }
    }
}

fn main() {}
