//! Stand-in for the lost sample card of a 1984 harbour tide-gauge recorder: six TTL packages in one 22V10.
//!
//! The card samples four gauge bits when the gauge's strobe has ended, keeps them until they are read, asks for
//! attention, and says when a sample was missed. The trace beside this file was taken from the sister recorder's card.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement.
#[derive(Circuit)]
#[circuit(vcc = 24, gnd = 12)]
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
    seen:  Buried<Register>,             // never leaves the device: it has no pin, so it has no driver to enable
    was:   Buried<Register>,
    fresh: Buried<Register, ActiveHigh>, // a flag has polarity, pin or not
}

impl Wiring for SampleCard {
    fn wire(&self) -> SampleCardWiring {
        let clock = self.clock.rises();
        let reset = self.reset.asserted();
        let reading = self.select.asserted() & self.read.asserted();
        let ended = self.was.q().is_high() & self.seen.q().is_low();
        let (fresh, missed) = (self.fresh.asserted(), self.missed.asserted());
        SampleCardWiring {
            seen: on(clock).load(self.strobe.level()).clear_while(reset),
            was: on(clock).load(self.seen.q()).clear_while(reset),
            fresh: on(clock).load((ended & !fresh) | (!reading & fresh)).release_while(reset),
            data: each(|i| on(clock).load_if(ended, self.gauge[i].level()).clear_while(reset).drive_while(reading)),
            wait: assert_while(reading & self.strobe.asserted()),
            irq: assert_while(fresh),
            missed: on(clock).load((ended & fresh & !missed) | (!reading & missed)).release_while(reset),
        }
    }
}

/// The lost card, as traced from its sister.
pub fn lost_card() -> Result<Board, TraceError> {
    Board::from_csv("sample_card.csv", include_str!("sample_card.csv"), gluewright_parts::ttl())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stand_in_matches_the_lost_card() -> Result<(), Failure> {
        let lost_card = lost_card().expect("the trace is sound");
        let proof = prove::<SampleCard>().against(&lost_card).run()?;
        println!("{proof}");
        Ok(())
    }
}
