//! A first draft of the stand-in for what `../../../examples/src/organ_pistons.csv` describes, written from the trace.
//!
//! Edit it: give names and polarity their meaning, and prove it again after each change.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement: the contacts of the socket, and what stays inside.
#[derive(Circuit)]
#[circuit(vcc = 18, gnd = 11)]
pub struct OrganPistons {
    #[contact(1..=4)]
    a: [Input<Data>; 4],
    #[contact(5)]
    iorq: Input<ActiveLow>, // active low: by its name
    #[contact(6)]
    rd: Input<ActiveLow>, // active low: by its name
    #[contact(7..=8)]
    piston: [Input<Data>; 2],
    #[contact(9)]
    set: Input<ActiveLow>, // active low: by its name
    #[contact(10)]
    rest: Input<ActiveLow>, // active low: by its name
    #[contact(12..=14)]
    d: [Output<Data, ThreeState>; 3],
    #[contact(15)]
    wait: Output<ActiveLow, OpenCollector>, // active low: by its name
    #[contact(16)]
    lamp: Output<ActiveLow>, // active low: by its name
    #[contact(17)]
    next: Output<ActiveLow>, // active low: by its name
    pressed: Buried<Node, ActiveHigh>, // active high: gates hold it
}

impl Wiring for OrganPistons {
    fn wire(&self) -> OrganPistonsWiring {
        let read = self.a[3].level().is_high()
            & self.iorq.asserted()
            & self.a[2].level().is_low()
            & self.a[0].level().is_high()
            & self.a[1].level().is_high()
            & self.rd.asserted(); // U1, U2
        OrganPistonsWiring {
            d: [
                // U3
                follow(self.piston[0].level()).drive_while(read),
                follow(self.piston[1].level()).drive_while(read),
                follow(self.pressed.level()).drive_while(read),
            ],
            wait: assert_while(read),                    // U5
            lamp: assert_while(self.pressed.asserted()), // U6
            next: assert_while(
                self.a[3].level().is_high()
                    & self.iorq.asserted()
                    & self.a[2].level().is_high()
                    & self.a[0].level().is_low()
                    & self.a[1].level().is_low(),
            ), // U1
            pressed: assert_while(self.set.asserted() | self.pressed.asserted() & !self.rest.asserted()), // U4
        }
    }
}

/// The original, as traced.
pub fn traced_organ_pistons() -> Result<Board, TraceError> {
    Board::from_csv(
        "../../../examples/src/organ_pistons.csv",
        include_str!("../../../examples/src/organ_pistons.csv"),
        gluewright_parts::ttl(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draft_matches_the_trace() -> Result<(), Failure> {
        let original = traced_organ_pistons().expect("the trace is sound");
        println!("{}", prove::<OrganPistons>().against(&original).run()?);
        Ok(())
    }
}
