//! The derive comes first: rustc does not know its attributes above it. (Guide page: ambiguous.)
use gluewright::prelude::*;

#[contacts(clock: 1, reset: 2, strobe: 3, wait: 4)]
#[derive(Circuit)]
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
        CardWiring {
            running: on(clock).load(self.strobe.asserted()).release_while(self.reset.asserted()),
            wait: assert_while(self.running.asserted()),
        }
    }
}

fn main() {}
