//! A definition takes its type from the field that it fills. (Guide page.)
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        let copy = follow(self.a.level());
        CardWiring {
            data: follow(self.a.level()),
        }
    }
}

fn main() {}
