//! The derive makes a struct a circuit: its table of contacts says so where it is missing.
use gluewright::prelude::*;

#[circuit(vcc = 14, gnd = 7)]
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
        CardWiring {
            running: on(clock).load(self.strobe.asserted()).release_while(self.reset.asserted()),
            wait: assert_while(self.running.asserted()),
        }
    }
}

fn main() {}
