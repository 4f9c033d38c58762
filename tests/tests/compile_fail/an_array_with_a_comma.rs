//! An array's length stands behind a semicolon: rustc says it, and the derive goes on with the array.
use gluewright::prelude::*;

#[derive(Circuit)]
#[contacts(gauge: 1..=4, sum: 5..=8)]
pub struct Card {
    gauge: [Input<Data>, 4],
    sum: [Output<Data>; 4],
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        CardWiring { sum: each(|i| follow(self.gauge[i].level())) }
    }
}

fn main() {}
