//! Transparent latches and chains of them.
use gluewright::circuit::Circuit as Logic;
use gluewright::prelude::*;

use super::bench::{Bench, circuit, of, proved, refuted};

/// Two 74LS373 bits in a row, each with its own enable; both always drive. D 1, first enable 2, second enable 3, Q 4.
fn chain() -> Logic {
    circuit(&[
        ("J1", "contacts", "1 d, 2 c1, 3 c2, 4 q"),
        ("U1", "74LS373", "1 GND, 3 d, 2 m, 11 c1, 20 VCC, 10 GND"),
        ("U2", "74LS373", "1 GND, 3 m, 2 q, 11 c2, 20 VCC, 10 GND"),
    ])
}

#[derive(Circuit)]
struct Chain {
    #[contact(1)]
    d: Input<Data>,
    #[contact(2)]
    c1: Input<ActiveHigh>,
    #[contact(3)]
    c2: Input<ActiveHigh>,
    #[contact(4)]
    q: Output<Data>,
    m: Buried<Latch>,
}

impl Wiring for Chain {
    fn wire(&self) -> ChainWiring {
        ChainWiring {
            m: open_while(self.c1.asserted()).follow(self.d.level()),
            q: open_while(self.c2.asserted()).follow(self.m.q()),
        }
    }
}

/// One latch that is open while both are: the first one's memory is gone.
#[derive(Circuit)]
struct OneLatch {
    #[contact(1)]
    d: Input<Data>,
    #[contact(2)]
    c1: Input<ActiveHigh>,
    #[contact(3)]
    c2: Input<ActiveHigh>,
    #[contact(4)]
    q: Output<Data>,
}

impl Wiring for OneLatch {
    fn wire(&self) -> OneLatchWiring {
        OneLatchWiring { q: open_while(self.c1.asserted() & self.c2.asserted()).follow(self.d.level()) }
    }
}

/// By hand (function table of the 74LS373, Motorola, FAST AND LS TTL DATA): open latches follow at once, through as many
/// as are open; a closed one holds what it followed last.
#[test]
fn a_chain_of_open_latches_is_a_wire_and_a_closed_one_holds() {
    let mut b = Bench::on(&chain(), "1L 2H 3H");
    let events = ["1H", "3L", "1L", "3H", "2L", "1H", "3L", "2H", "3H"];
    let expected = ["H", "H", "H", "L", "L", "L", "L", "L", "H"];
    assert_eq!(b.run(&events, &[4]), expected);
    proved(&chain(), &of::<Chain>());
    let r = refuted(&chain(), &of::<OneLatch>());
    assert!(r.shortest, "{r}");
}

/// Two latches that open in turns, from one clock and its complement, make a flip-flop: the classic master and slave.
/// By hand: the master (open while clk is low) holds at the rise what d was, and the slave shows it until the next rise.
#[test]
fn a_master_and_a_slave_are_a_register() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 d, 3 q"),
        ("U1", "74LS04", "1 clk, 2 clk_n, 14 VCC, 7 GND"),
        ("U2", "74LS373", "1 GND, 3 d, 2 m, 11 clk_n, 20 VCC, 10 GND"),
        ("U3", "74LS373", "1 GND, 3 m, 2 q, 11 clk, 20 VCC, 10 GND"),
    ]);
    let mut b = Bench::on(&board, "1L 2H");
    let events = ["1H", "2L", "1L", "1H", "2H", "1L", "1H"];
    assert_eq!(b.run(&events, &[3]), ["H", "H", "H", "L", "L", "L", "H"]);
}

/// By hand: power finds gates and open latches settled; what a latch held before it was opened has never been a level, and
/// nothing was clocked by it (function tables of the 74LS373 and the 74LS74, Motorola, FAST AND LS TTL DATA).
#[test]
fn an_open_latch_makes_no_edge_at_power_up() {
    let logic = circuit(&[
        ("J1", "contacts", "1 d, 2 c, 3 q, 4 data"),
        ("U1", "74LS373", "1 GND, 3 d, 2 m, 11 c, 20 VCC, 10 GND"),
        ("U2", "74LS74", "1 VCC, 2 data, 3 m, 4 VCC, 5 q, 14 VCC, 7 GND"),
    ]);
    for stored in [false, true] {
        let mut bench = Bench::with(&logic, "1H 2H 4L", |name| !name.starts_with("U1") || stored);
        assert_eq!(bench.shows(&[3]), "H", "whatever the latch held, the flip-flop keeps its start");
        // a real edge loads
        assert_eq!(bench.run(&["1L", "1H"], &[3]), ["H", "L"]);
    }
}
