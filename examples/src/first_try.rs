//! The sample card's stand-in at a first try: `read` was taken as it stands in the schematic, high for true, so the drivers
//! of the data are on at the wrong times. What comes of it is a refutation.
use gluewright::prelude::*;

/// The replacement, with one mistake.
#[derive(Circuit)]
#[contacts(
    clock: 1, select: 2, read: 3, reset: 6, strobe: 7, gauge: 8..=11, data: 13..=16, wait: 17,
    irq: 18, missed: 19,
)]
pub struct SampleCard {
    clock: Input<Clock>,
    select: Input<ActiveLow>,
    read: Input<ActiveLow>,
    reset: Input<ActiveLow>,
    strobe: Input<ActiveHigh>,
    gauge: [Input<Data>; 4],
    data: [Output<Data, ThreeState>; 4],
    wait: Output<ActiveLow>,
    irq: Output<ActiveLow, OpenCollector>,
    missed: Output<ActiveLow>,
    seen: Buried<Register>,
    was: Buried<Register>,
    fresh: Buried<Register, ActiveHigh>,
}

impl Wiring for SampleCard {
    fn wire(&self) -> SampleCardWiring {
        let clock = self.clock.rises();
        let reset = self.reset.asserted();
        let reading = self.select.asserted() & self.read.asserted();
        let enable = self.select.asserted() & self.read.level().is_high();
        let ended = self.was.q().is_high() & self.seen.q().is_low();
        let (fresh, missed) = (self.fresh.asserted(), self.missed.asserted());
        SampleCardWiring {
            seen: on(clock).load(self.strobe.level()).clear_while(reset),
            was: on(clock).load(self.seen.q()).clear_while(reset),
            fresh: on(clock).load((ended & !fresh) | (!reading & fresh)).release_while(reset),
            data: each(|i| on(clock).load_if(ended, self.gauge[i].level()).clear_while(reset).drive_while(enable)),
            wait: assert_while(reading & self.strobe.asserted()),
            irq: assert_while(fresh),
            missed: on(clock).load((ended & fresh & !missed) | (!reading & missed)).release_while(reset),
        }
    }
}
