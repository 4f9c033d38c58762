//! The derive reads the words that stand in the field.
use gluewright::prelude::*;

type Gauge = [Input<Data>; 4];

#[derive(Circuit)]
pub struct Card {
    #[contact(4)]
    y: Output<Data>,
    #[contact(8..=11)]
    gauge: Gauge,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.gauge[1].level()),
        }
    }
}

fn main() {}
