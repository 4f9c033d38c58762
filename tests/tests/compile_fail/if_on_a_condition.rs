//! `if` chooses while the circuit is described, not while it runs. (Guide page: if.)
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    a: Input<Data>,
    #[contact(5)]
    b: Input<Data>,
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: follow(if self.strobe.asserted() { self.a.level() } else { self.b.level() }),
        }
    }
}

fn main() {}
