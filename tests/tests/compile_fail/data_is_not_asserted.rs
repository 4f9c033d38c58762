//! A data output is not asserted.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(3)]
    strobe: Input<ActiveHigh>,
    #[contact(18)]
    data: Output<Data>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            data: assert_while(self.strobe.asserted()),
        }
    }
}

fn main() {}
