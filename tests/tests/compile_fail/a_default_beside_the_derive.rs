//! A circuit's fields have no values, so it has no default: rustc says it at each field. (Guide page: Default.)
use gluewright::prelude::*;

#[derive(Circuit, Default)]
#[contacts(a: 1, y: 2)]
pub struct Card {
    a: Input<Data>,
    y: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring { y: follow(self.a.level()) }
    }
}

fn main() {}
