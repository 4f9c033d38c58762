//! Stand-in for the piston port of the same pipe organ: its address decoder, three bits on the bus, one of them latched.
//!
//! The setter piston is a changeover contact that bounces; two cross-coupled gates make one clean level of it. The
//! contact breaks before it makes, so it never grounds both its wires.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;
use gluewright::prove::Assumed;

/// The replacement.
#[derive(Circuit)]
#[circuit(vcc = 18, gnd = 11)]
#[contacts(
    address: 1..=4, port: 5, read: 6, piston: (7, 8), set: 9, rest: 10, state: (12, 13), setter: 14,
    wait: 15, lamp: 16, next: 17,
)]
pub struct OrganPistons {
    address: [Input<Data>; 4],
    port: Input<ActiveLow>,
    read: Input<ActiveLow>,
    piston: [Input<Data>; 2],
    set: Input<ActiveLow>,
    rest: Input<ActiveLow>,
    state: [Output<Data, ThreeState>; 2],
    setter: Output<Data, ThreeState>,
    wait: Output<ActiveLow, OpenCollector>,
    lamp: Output<ActiveLow>,
    next: Output<ActiveLow>,
}

impl Wiring for OrganPistons {
    fn wire(&self) -> OrganPistonsWiring {
        let line = Word::of(self.address);
        let selected = |number| self.port.asserted() & line.is(number);
        let reading = selected(0b1011) & self.read.asserted();
        let pressed = self.lamp.asserted();
        OrganPistonsWiring {
            state: each(|i| follow(self.piston[i].level()).drive_while(reading)),
            setter: follow(high_while(pressed)).drive_while(reading),
            wait: assert_while(reading),
            lamp: assert_while(self.set.asserted() | (pressed & !self.rest.asserted())),
            next: assert_while(selected(0b1100)),
        }
    }
}

/// The setter's changeover contact breaks before it makes.
pub fn breaks_before_it_makes(port: &OrganPistons) -> Assumed {
    never(port.set.asserted() & port.rest.asserted())
}

/// The port, as traced from the sister organ's.
pub fn lost_card() -> Result<Board, TraceError> {
    Board::from_csv("organ_pistons.csv", include_str!("organ_pistons.csv"), gluewright_parts::ttl())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stand_in_matches_the_lost_card() -> Result<(), Failure> {
        let card = lost_card().expect("the trace is sound");
        println!("{}", prove::<OrganPistons>().against(&card).assuming(breaks_before_it_makes).run()?);
        Ok(())
    }
}
