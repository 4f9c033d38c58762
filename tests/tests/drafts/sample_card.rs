//! A first draft of the stand-in for what `../../../examples/src/sample_card.csv` describes, written from the trace.
//!
//! Edit it: give names and polarity their meaning, and prove it again after each change.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement: the contacts of the socket, and what stays inside.
#[derive(Circuit)]
#[circuit(vcc = 24, gnd = 12)]
pub struct SampleCard {
    #[contact(1)]
    clk: Input<Clock>, // clock: it clocks registers and does nothing else
    #[contact(2)]
    select: Input<ActiveLow>, // active low: by its name
    #[contact(3)]
    read: Input<ActiveLow>, // active low: by its name
    #[contact(6)]
    reset: Input<ActiveLow>, // active low: by its name
    #[contact(7)]
    strobe: Input<Data>,
    #[contact(8..=11)]
    g: [Input<Data>; 4],
    #[contact(13..=16)]
    d: [Output<Data, ThreeState>; 4],
    #[contact(17)]
    wait: Output<ActiveLow>, // active low: by its name
    #[contact(18)]
    irq: Output<ActiveLow, OpenCollector>, // active low: by its name
    #[contact(19)]
    missed: Output<ActiveLow>, // active low: by its name
    seen: Buried<Register>,
    was: Buried<Register>,
    fresh: Buried<Register, ActiveHigh>, // active high: it loads a condition
}

impl Wiring for SampleCard {
    fn wire(&self) -> SampleCardWiring {
        let ended = self.seen.q().is_low() & self.was.q().is_high(); // U5
        let reading = self.select.asserted() & self.read.asserted(); // U5
        SampleCardWiring {
            d: each(|i| {
                on(self.clk.rises())
                    .load_if(ended, self.g[i].level())
                    .clear_while(self.reset.asserted())
                    .drive_while(self.select.asserted() & self.read.asserted())
            }), // U1
            wait: assert_while(self.strobe.level().is_high() & reading), // U4
            irq: assert_while(self.fresh.asserted()),                    // U6
            missed: on(self.clk.rises())
                .load(ended & self.fresh.asserted() & !self.missed.asserted() | !reading & self.missed.asserted())
                .release_while(self.reset.asserted()), // U3, U5
            seen: on(self.clk.rises()).load(self.strobe.level()).clear_while(self.reset.asserted()), // U2
            was: on(self.clk.rises()).load(self.seen.q()).clear_while(self.reset.asserted()), // U2
            fresh: on(self.clk.rises())
                .load(ended & !self.fresh.asserted() | !reading & self.fresh.asserted())
                .release_while(self.reset.asserted()), // U3
        }
    }
}

/// The original, as traced.
pub fn traced_sample_card() -> Result<Board, TraceError> {
    Board::from_csv(
        "../../../examples/src/sample_card.csv",
        include_str!("../../../examples/src/sample_card.csv"),
        gluewright_parts::ttl(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draft_matches_the_trace() -> Result<(), Failure> {
        let original = traced_sample_card().expect("the trace is sound");
        println!("{}", prove::<SampleCard>().against(&original).run()?);
        Ok(())
    }
}
