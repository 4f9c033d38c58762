//! A first draft of the stand-in for what `../../../examples/src/loom_bridge.csv` describes, written from the trace.
//!
//! Edit it: give names and polarity their meaning, and prove it again after each change.
use gluewright::board::{Board, TraceError};
use gluewright::prelude::*;

/// The replacement: the contacts of the socket, and what stays inside.
#[derive(Circuit)]
#[circuit(vcc = 40, gnd = 18)]
pub struct LoomBridge {
    #[contact(1)]
    clk: Input<Clock>, // clock: it clocks registers and does nothing else
    #[contact(2)]
    reset: Input<ActiveLow>, // active low: by its name
    #[contact(3)]
    to_loom: Input<Data>,
    #[contact(4)]
    request: Input<ActiveLow>, // active low: by its name
    #[contact(5)]
    strobe: Input<ActiveLow>, // active low: by its name
    #[contact(6)]
    ready: Output<ActiveHigh>, // active high: it shows a condition
    #[contact(7)]
    fault: Output<ActiveLow>, // active low: by its name
    #[contact(10..=17)]
    a: [InOut<Data, ThreeState>; 8],
    #[contact(20..=27)]
    b: [InOut<Data, ThreeState>; 8],
    asked: Buried<Register>,
    granted: Buried<Register>,
    struck: Buried<Register>,
    late: Buried<Register>,
}

impl Wiring for LoomBridge {
    fn wire(&self) -> LoomBridgeWiring {
        let drive_a = self.request.asserted() & self.to_loom.level().is_high() & self.granted.q().is_high(); // U5
        let drive_b = self.request.asserted() & self.granted.q().is_high() & self.to_loom.level().is_low(); // U5
        let hold = self.to_loom.level().is_low() | !self.strobe.asserted(); // U6
        let hold_a = self.to_loom.level().is_low() & self.strobe.asserted(); // U6
        LoomBridgeWiring {
            ready: assert_while(self.request.asserted() & self.granted.q().is_high()), // U6
            fault: assert_while(drive_a & drive_b | self.late.q().is_high()),          // U5, U6
            a: each(|i| open_while(!hold).follow(self.b[i].level()).drive_while(drive_a)), // U2
            b: each(|i| open_while(hold_a).follow(self.a[i].level()).drive_while(drive_b)), // U1
            asked: on(self.clk.rises()).load(!self.request.level()).clear_while(self.reset.asserted()), // U3
            granted: on(self.clk.rises()).load(self.asked.q()).clear_while(self.reset.asserted()), // U3
            struck: on(self.clk.rises()).load(!self.strobe.level()).clear_while(self.reset.asserted()), // U7
            late: on(self.clk.rises())
                .load(high_while(self.struck.q().is_high() & self.granted.q().is_low()))
                .clear_while(self.reset.asserted()), // U7, U8
        }
    }
}

/// The original, as traced.
pub fn traced_loom_bridge() -> Result<Board, TraceError> {
    Board::from_csv(
        "../../../examples/src/loom_bridge.csv",
        include_str!("../../../examples/src/loom_bridge.csv"),
        gluewright_parts::ttl(),
    )
}
