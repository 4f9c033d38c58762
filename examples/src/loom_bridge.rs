//! Stand-in for the bus bridge of a 1983 dobby-loom controller: eight bits, latched and three-state both ways.
//!
//! While it is granted, the bridge shows on one bus what it latched from the other; the direction is the controller's
//! choice. It asks two clocks long for the grant, and says when a strobe came before it. The trace beside this file was
//! taken from the controller of a sister loom.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement.
#[derive(Circuit)]
#[circuit(vcc = 40, gnd = 18)]
#[contacts(
    clock: 1, reset: 2, to_loom: 3, request: 4, strobe: 5, ready: 6, fault: 7, a: 10..=17,
    b: 20..=27,
)]
pub struct LoomBridge {
    clock: Input<Clock>,
    reset: Input<ActiveLow>,
    to_loom: Input<ActiveHigh>,
    request: Input<ActiveLow>,
    strobe: Input<ActiveLow>,
    ready: Output<ActiveHigh>,
    fault: Output<ActiveLow>,
    a: [InOut<Data, ThreeState>; 8],
    b: [InOut<Data, ThreeState>; 8],
    asked: Buried<Register, ActiveHigh>,
    granted: Buried<Register, ActiveHigh>,
    struck: Buried<Register, ActiveHigh>,
}

impl Wiring for LoomBridge {
    fn wire(&self) -> LoomBridgeWiring {
        let clock = self.clock.rises();
        let reset = self.reset.asserted();
        let (request, strobe, to_loom) = (self.request.asserted(), self.strobe.asserted(), self.to_loom.asserted());
        let granted = self.granted.asserted();
        let ready = granted & request;
        LoomBridgeWiring {
            asked: on(clock).load(request).release_while(reset),
            granted: on(clock).load(self.asked.asserted()).release_while(reset),
            struck: on(clock).load(strobe).release_while(reset),
            ready: assert_while(ready),
            fault: on(clock).load(self.struck.asserted() & !granted).release_while(reset),
            a: each(|i| open_while(strobe & to_loom).follow(self.b[i].level()).drive_while(ready & to_loom)),
            b: each(|i| open_while(strobe & !to_loom).follow(self.a[i].level()).drive_while(ready & !to_loom)),
        }
    }
}

/// The bridge, as traced from a sister loom.
pub fn lost_bridge() -> Result<Board, TraceError> {
    Board::from_csv("loom_bridge.csv", include_str!("loom_bridge.csv"), gluewright_parts::ttl())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stand_in_matches_the_bridge() -> Result<(), Failure> {
        let bridge = lost_bridge().expect("the trace is sound");
        println!(
            "{}",
            prove::<LoomBridge>()
                .against(&bridge)
                .acknowledging("clash_n")
                .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
                .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
                .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
                .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
                .run()?
        );
        Ok(())
    }
}
