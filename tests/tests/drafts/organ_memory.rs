//! A first draft of the stand-in for what `../../../examples/src/organ_memory.csv` describes, written from the trace.
//!
//! Edit it: give names and polarity their meaning, and prove it again after each change.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement: the contacts of the socket, and what stays inside.
#[derive(Circuit)]
#[circuit(vcc = 16, gnd = 9)]
pub struct OrganMemory {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2..=4)]
    a: [Input<Data>; 3],
    #[contact(5)]
    mreq: Input<ActiveLow>,
    #[contact(6)]
    rfsh: Input<ActiveLow>,
    #[contact(7)]
    wr: Input<ActiveLow>,
    #[contact(8)]
    lock: Input<ActiveHigh>,
    #[contact(10)]
    rom: Output<ActiveLow>,
    #[contact(11)]
    ram_a: Output<ActiveLow>,
    #[contact(12)]
    ram_b: Output<ActiveLow>,
    #[contact(13)]
    knobs: Output<ActiveLow>,
    #[contact(14)]
    wait: Output<ActiveLow>,
    #[contact(15)]
    ram_we: Output<ActiveLow>,
    q_a: Buried<Register, ActiveHigh>,
    q_b: Buried<Register, ActiveHigh>,
}

impl Wiring for OrganMemory {
    fn wire(&self) -> OrganMemoryWiring {
        let slow = self.ram_a.asserted() | self.ram_b.asserted();
        let done = self.q_a.asserted() & self.q_b.asserted();
        OrganMemoryWiring {
            rom: assert_while(
                !self.rfsh.asserted()
                    & self.mreq.asserted()
                    & self.a[0].level().is_low()
                    & self.a[1].level().is_low()
                    & self.a[2].level().is_low(),
            ),
            ram_a: assert_while(
                !self.rfsh.asserted()
                    & self.mreq.asserted()
                    & self.a[2].level().is_high()
                    & self.a[0].level().is_low()
                    & self.a[1].level().is_low(),
            ),
            ram_b: assert_while(
                !self.rfsh.asserted()
                    & self.mreq.asserted()
                    & self.a[2].level().is_high()
                    & self.a[0].level().is_high()
                    & self.a[1].level().is_low(),
            ),
            knobs: assert_while(
                !self.rfsh.asserted()
                    & self.mreq.asserted()
                    & self.a[2].level().is_high()
                    & self.a[0].level().is_high()
                    & self.a[1].level().is_high(),
            ),
            wait: assert_while(slow & !done),
            ram_we: assert_while(done & self.wr.asserted() & !self.lock.asserted() & slow),
            q_a: on(self.clk.rises()).load(slow & choose(!done, !self.q_a.asserted(), self.q_a.asserted())), // U3
            q_b: on(self.clk.rises())
                .load(slow & choose(!done, self.q_a.asserted() ^ self.q_b.asserted(), self.q_b.asserted())), // U3
        }
    }
}

/// The original, as traced.
pub fn traced_organ_memory() -> Result<Board, TraceError> {
    Board::from_csv(
        "../../../examples/src/organ_memory.csv",
        include_str!("../../../examples/src/organ_memory.csv"),
        gluewright_parts::ttl(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draft_matches_the_trace() -> Result<(), Failure> {
        let original = traced_organ_memory().expect("the trace is sound");
        println!("{}", prove::<OrganMemory>().against(&original).run()?);
        Ok(())
    }
}
