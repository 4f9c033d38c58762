//! A first draft of the stand-in for what `../../../examples/src/organ_memory.csv` describes, written from the trace.
//!
//! Edit it: give names and polarity their meaning, and prove it again after each change.
use gluewright::board::{Board, TraceError};
use gluewright::idioms::{count_up, decoded};
use gluewright::prelude::*;

/// The replacement: the contacts of the socket, and what stays inside.
#[derive(Circuit)]
#[circuit(vcc = 16, gnd = 9)]
pub struct OrganMemory {
    #[contact(1)]
    clk: Input<Clock>, // clock: it clocks registers and does nothing else
    #[contact(2..=4)]
    a: [Input<Data>; 3],
    #[contact(5)]
    mreq: Input<ActiveLow>, // active low: by its name
    #[contact(6)]
    rfsh: Input<ActiveLow>, // active low: by its name
    #[contact(7)]
    wr: Input<ActiveLow>, // active low: by its name
    #[contact(8)]
    lock: Input<ActiveHigh>, // active high: it is used as a condition and nowhere as data
    #[contact(10)]
    rom: Output<ActiveLow>, // active low: by its name
    #[contact(11)]
    ram_a: Output<ActiveLow>, // active low: by its name
    #[contact(12)]
    ram_b: Output<ActiveLow>, // active low: by its name
    #[contact(13)]
    knobs: Output<ActiveLow>, // active low: by its name
    #[contact(14)]
    wait: Output<ActiveLow>, // active low: by its name
    #[contact(15)]
    ram_we: Output<ActiveLow>, // active low: by its name
    q_a: Buried<Register>,
    q_b: Buried<Register>,
}

impl Wiring for OrganMemory {
    fn wire(&self) -> OrganMemoryWiring {
        let done = self.q_a.q().is_high() & self.q_b.q().is_high(); // U2
        let lines: [Assertion; 8] = decoded(Word::of(self.a), !self.rfsh.asserted() & self.mreq.asserted()); // U1
        let slow = lines[4] | lines[5]; // U2
        let count = count_up([self.q_a.q(), self.q_b.q()]).enabled_while(!done).cleared_while(!slow).next(); // U3
        OrganMemoryWiring {
            rom: assert_while(lines[0]),                                                    // U1
            ram_a: assert_while(lines[4]),                                                  // U1
            ram_b: assert_while(lines[5]),                                                  // U1
            knobs: assert_while(lines[7]),                                                  // U1
            wait: assert_while(slow & !done),                                               // U2
            ram_we: assert_while(done & self.wr.asserted() & !self.lock.asserted() & slow), // U4
            q_a: on(self.clk.rises()).load(count[0]),                                       // U3
            q_b: on(self.clk.rises()).load(count[1]),                                       // U3
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
