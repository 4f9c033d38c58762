//! Labels are compared as they are printed.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact("A12")]
    a: Input<Data>,
    #[contact("A10"..="A13")]
    y: [Output<Data>; 4],
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: each(|_| follow(self.a.level())),
        }
    }
}

fn main() {}
