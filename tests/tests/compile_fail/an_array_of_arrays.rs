//! Contacts stand in one row.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    y: Output<Data>,
    #[contact(8..=15)]
    gauge: [[Input<Data>; 4]; 2],
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.gauge[0][1].level()),
        }
    }
}

fn main() {}
