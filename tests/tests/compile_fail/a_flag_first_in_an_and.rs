//! A flag is not a condition either, and what is made of it is no second error.
use gluewright::prelude::*;

#[derive(Circuit)]
#[contacts(clock: 1, reset: 2, strobe: 3, wait: 4)]
pub struct Card {
    clock: Input<Clock>,
    reset: Input<ActiveLow>,
    strobe: Input<ActiveHigh>,
    wait: Output<ActiveLow>,
    running: Buried<Register, ActiveHigh>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        let clock = self.clock.rises();
        let waiting = (self.running & self.strobe.asserted()) ^ self.reset.asserted();
        CardWiring {
            running: on(clock).load(self.strobe.asserted()).release_while(self.reset.asserted()),
            wait: assert_while(waiting | !waiting),
        }
    }
}

fn main() {}
