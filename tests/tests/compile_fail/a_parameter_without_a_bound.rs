//! A parameter is a width, or says what it stands for.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card<T> {
    #[contact(1)]
    a: Input<T>,
    #[contact(2)]
    y: Output<Data>,
}

impl<T> Wiring for Card<T> {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(high_while(Assertion::ALWAYS)),
        }
    }
}

fn main() {}
