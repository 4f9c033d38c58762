//! All mistakes of a struct are reported at once, each at its place.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(1, 2)]
    a: [Input<Data>; 3],
    #[contact(2)]
    b: Input<ActiveLow>,
    #[contact(0)]
    c: Input<ActiveLow>,
    d: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring { d: follow(self.a[0].level()) }
    }
}

fn main() {}
