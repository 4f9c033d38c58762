//! Stand-in for the address card of a 1982 pipe-organ combination memory: a decoder with a wait-state counter.
//!
//! The memory that holds the organist's combinations is slow: whenever it is selected, the card holds the processor
//! until three clocks have passed, and lets a write through only then, and only while the key switch is not locked.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement.
#[derive(Circuit)]
#[circuit(vcc = 16, gnd = 9)]
#[contacts(
    clock: 1, address: 2..=4, memory: 5, refresh: 6, write: 7, lock: 8, rom: 10, ram_a: 11,
    ram_b: 12, knobs: 13, wait: 14, ram_write: 15,
)]
pub struct OrganMemory {
    clock: Input<Clock>,
    address: [Input<Data>; 3],
    memory: Input<ActiveLow>,
    refresh: Input<ActiveLow>,
    write: Input<ActiveLow>,
    lock: Input<ActiveHigh>,
    rom: Output<ActiveLow>,
    ram_a: Output<ActiveLow>,
    ram_b: Output<ActiveLow>,
    knobs: Output<ActiveLow>,
    wait: Output<ActiveLow>,
    ram_write: Output<ActiveLow>,
    waited: [Buried<Register>; 2],
}

impl Wiring for OrganMemory {
    fn wire(&self) -> OrganMemoryWiring {
        let page = Word::of(self.address);
        let selected = |number| self.memory.asserted() & !self.refresh.asserted() & page.is(number);
        let slow = selected(4) | selected(5);
        let waited = Word::of(self.waited);
        let done = waited.is(3);
        let next = choose(done, waited, waited.plus_one());
        OrganMemoryWiring {
            rom: assert_while(selected(0)),
            ram_a: assert_while(selected(4)),
            ram_b: assert_while(selected(5)),
            knobs: assert_while(selected(7)),
            wait: assert_while(slow & !done),
            ram_write: assert_while(slow & done & self.write.asserted() & !self.lock.asserted()),
            waited: each(|i| on(self.clock.rises()).load(high_while(slow & next[i].is_high()))),
        }
    }
}

/// The card, as traced from the sister organ's.
pub fn lost_card() -> Result<Board, TraceError> {
    Board::from_csv("organ_memory.csv", include_str!("organ_memory.csv"), gluewright_parts::ttl())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stand_in_matches_the_lost_card() -> Result<(), Failure> {
        let card = lost_card().expect("the trace is sound");
        println!("{}", prove::<OrganMemory>().against(&card).run()?);
        Ok(())
    }
}
