//! The sample card's stand-in at a first try: `read` was taken as it stands in the schematic, high for true, so the drivers
//! of the data are on at the wrong times. What comes of it is a refutation.
use gluewright::prelude::*;

/// The replacement, with one mistake.
#[derive(Circuit)]
#[rustfmt::skip]
pub struct SampleCard {
    #[contact(1)]       clock:  Input<Clock>,
    #[contact(2)]       select: Input<ActiveLow>,
    #[contact(3)]       read:   Input<ActiveLow>,
    #[contact(6)]       reset:  Input<ActiveLow>,
    #[contact(7)]       strobe: Input<ActiveHigh>,
    #[contact(8..=11)]  gauge:  [Input<Data>; 4],
    #[contact(13..=16)] data:   [Output<Data, ThreeState>; 4],
    #[contact(17)]      wait:   Output<ActiveLow>,
    #[contact(18)]      irq:    Output<ActiveLow, OpenCollector>,
    #[contact(19)]      missed: Output<ActiveLow>,
    seen:  Buried<Register>,
    was:   Buried<Register>,
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
