//! A definition does nothing until it fills a field of the wiring. (Guide page.)
#![deny(warnings)]
use gluewright::prelude::*;

fn copied(from: Input<Data>) -> Definition<Output<Data>> {
    follow(from.level())
}

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        copied(self.a);
        CardWiring {
            data: copied(self.a),
        }
    }
}

fn main() {}
