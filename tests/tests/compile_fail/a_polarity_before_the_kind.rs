//! What a buried element is comes first, then what it carries; its uses are no further errors.
use gluewright::prelude::*;

#[derive(Circuit)]
#[contacts(clock: 1, reset: 2, strobe: 3, wait: 4)]
pub struct Card {
    clock: Input<Clock>,
    reset: Input<ActiveLow>,
    strobe: Input<ActiveHigh>,
    wait: Output<ActiveLow>,
    running: Buried<ActiveHigh, Register>,
}

impl Wiring for Card {
    fn wire(&self) -> CardWiring {
        let clock = self.clock.rises();
        CardWiring {
            running: on(clock).load(self.strobe.asserted()).release_while(self.reset.asserted()),
            wait: assert_while(self.running.asserted() | self.running.level().is_low() | self.running.q().is_high()),
        }
    }
}

fn main() {}
