//! The derive makes a struct a circuit.
use gluewright::prelude::*;

pub struct Card {
    #[contact(1)]
    a: Input<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> Self::Wiring {
        unimplemented!()
    }
}

fn main() {}
