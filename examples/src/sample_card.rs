//! Stand-in for the lost sample card of a 1984 harbour tide-gauge recorder: six TTL packages in one 22V10.
//!
//! The card samples four gauge bits when the gauge's strobe has ended, keeps them until they are read, asks for
//! attention, and says when a sample was missed. The trace beside this file was taken from the sister recorder's card.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement.
#[derive(Circuit)]
#[circuit(vcc = 24, gnd = 12)]
#[contacts(
    clock: 1, select: 2, read: 3, reset: 6, strobe: 7, gauge: 8..=11, data: 13..=16, wait: 17,
    irq: 18, missed: 19,
)]
pub struct SampleCard {
    pub clock: Input<Clock>,
    pub select: Input<ActiveLow>,
    pub read: Input<ActiveLow>,
    pub reset: Input<ActiveLow>,
    pub strobe: Input<ActiveHigh>,
    pub gauge: [Input<Data>; 4],
    pub data: [Output<Data, ThreeState>; 4],
    pub wait: Output<ActiveLow>,
    pub irq: Output<ActiveLow, OpenCollector>,
    pub missed: Output<ActiveLow>,
    seen: Buried<Register>, // never leaves the device: it has no pin, so it has no driver to enable
    was: Buried<Register>,
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
#[allow(clippy::panic, reason = "a check stops at what it did not expect")]
mod tests {
    use super::*;
    use gluewright::prove::Broken;

    #[test]
    fn stand_in_matches_the_lost_card() -> Result<(), Failure> {
        let lost_card = lost_card().expect("the trace is sound");
        let proof = prove::<SampleCard>().against(&lost_card).run()?;
        println!("{proof}");
        Ok(())
    }

    fn reading(c: &SampleCard) -> Assertion {
        c.select.asserted() & c.read.asserted()
    }

    #[test]
    fn three_sentences_hold() {
        let held = prove::<SampleCard>()
            .that(|c| true_only_while(drives(c.data), reading(c)))
            .that(|c| {
                let waiting = c.fresh.asserted() | c.missed.asserted();
                let only = after(c.clock.rises()).when(!waiting).holds(!c.missed.asserted());
                only.called("a sample is missed only if one waited")
            })
            .that(|c| whenever(c.irq.asserted()).holds(c.irq.asserted()).until(reading(c) | c.reset.asserted()))
            .run();
        let held = held.unwrap_or_else(|broken| panic!("{broken}"));
        held.iter().for_each(|property| println!("{property}\n"));
    }

    #[test]
    fn three_that_might_be_thought_so_do_not() {
        let verdicts = prove::<SampleCard>()
            .that(|c| never(drives(c.data) & c.strobe.asserted()))
            .that(|c| whenever(c.irq.asserted()).holds(c.irq.asserted()).until(reading(c)))
            .that(|c| true_only_while(c.missed.asserted(), c.irq.asserted()).once(c.reset.asserted()))
            .verdicts();
        let lengths = verdicts.iter().map(|verdict| match verdict {
            Err(broken @ Broken::Refuted(run)) if run.shortest => {
                println!("{broken}\n");
                run.events.len()
            }
            other => panic!("{other:?}"),
        });
        let lengths: Vec<usize> = lengths.collect();
        // at power-up; a reset takes it back; a sample ends while the one before it is read
        assert_eq!(lengths[..2], [0, 1]);
        assert!(lengths[2] >= 6, "{lengths:?}");
    }
}
