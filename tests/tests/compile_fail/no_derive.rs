//! The derive makes a struct a circuit. (Guide page: expected non-macro attribute.)
use gluewright::prelude::*;

pub struct Card {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring { y: follow(self.a.level()) }
    }
}

fn main() {}
