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
#[rustfmt::skip]
pub struct OrganPistons {
    #[contact(1..=4)] address: [Input<Data>; 4],
    #[contact(5)]     port:    Input<ActiveLow>,
    #[contact(6)]     read:    Input<ActiveLow>,
    #[contact(7, 8)]  piston:  [Input<Data>; 2],
    #[contact(9)]     set:     Input<ActiveLow>,
    #[contact(10)]    rest:    Input<ActiveLow>,
    #[contact(12,13)] state:   [Output<Data, ThreeState>; 2],
    #[contact(14)]    setter:  Output<Data, ThreeState>,
    #[contact(15)]    wait:    Output<ActiveLow, OpenCollector>,
    #[contact(16)]    lamp:    Output<ActiveLow>,
    #[contact(17)]    next:    Output<ActiveLow>,
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
