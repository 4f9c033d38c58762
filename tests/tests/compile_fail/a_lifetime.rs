//! A circuit borrows nothing.
use gluewright::prelude::*;

#[derive(Circuit)]
pub struct Card<'a> {
    #[contact(1)]
    clock: Input<Clock>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    a: Input<Data>,
    #[contact(4)]
    y: Output<Data>,
    name: &'a str,
}

impl<'a> Wiring for Card<'a> {
    fn wire(&self) -> CardWiring {
        CardWiring {
            y: follow(self.a.level()),
        }
    }
}

fn main() {}
