//! Data and clocks that move in one settling step.
use gluewright::prelude::*;

use super::bench::{Bench, circuit, of, proved, refuted, unknowns};

/// D and CLK on one contact.
#[test]
fn data_that_is_its_own_clock_races() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 q"),
        ("U1", "74LS74", "1 VCC, 4 VCC, 2 clk, 3 clk, 5 q, 14 VCC, 7 GND"),
    ]);
    let mut b = Bench::on(&board, "1L");
    let happened = b.set("1H");
    let said = unknowns(&b, &happened);
    assert!(matches!(said.as_slice(), [one] if one.contains("data changed together with its clock edge")), "{said:?}");
    assert_eq!(b.shows(&[2]), "L", "usually what stood before the edge");
}

/// A second register clocked by the first one's output, with data from a third of the same clock: data and derived
/// clock change in one phase.
#[test]
fn data_of_the_phase_that_makes_the_clock_races() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 d, 3 e, 4 q"),
        ("U1", "74LS74", "1 VCC, 4 VCC, 2 d, 3 clk, 5 made, 13 VCC, 10 VCC, 12 e, 11 clk, 9 data, 14 VCC, 7 GND"),
        ("U2", "74LS74", "1 VCC, 4 VCC, 2 data, 3 made, 5 q, 14 VCC, 7 GND"),
    ]);
    let mut b = Bench::on(&board, "1L 2H 3H");
    let happened = b.set("1H");
    let said = unknowns(&b, &happened);
    assert!(matches!(said.as_slice(), [one] if one.contains("data changed together")), "{said:?}");
    // with e low the data don't move, and nothing is unknown
    let mut b = Bench::on(&board, "1L 2H 3L");
    let happened = b.set("1H");
    assert!(unknowns(&b, &happened).is_empty());
}

/// A shift register's stages share their clock: what each loads stood before the edge, and that is no race.
#[test]
fn a_shift_register_does_not_race() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 d, 3 a, 4 b"),
        ("U1", "74LS74", "1 VCC, 4 VCC, 2 d, 3 clk, 5 a, 13 VCC, 10 VCC, 12 a, 11 clk, 9 b, 14 VCC, 7 GND"),
    ]);
    let mut b = Bench::on(&board, "1L 2H");
    let mut shown = Vec::new();
    for event in ["1H", "1L", "2L", "1H", "1L", "1H"] {
        let happened = b.set(event);
        assert!(unknowns(&b, &happened).is_empty());
        shown.push(b.shows(&[3, 4]));
    }
    assert_eq!(shown, ["HL", "HL", "HL", "LH", "LH", "LL"]);
    proved(&board, &of::<Shift>());
    refuted(&board, &of::<ShiftTooFar>());
}

#[derive(Circuit)]
struct Shift {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    d: Input<Data>,
    #[contact(3)]
    a: Output<Data>,
    #[contact(4)]
    b: Output<Data>,
}

impl Wiring for Shift {
    fn wire(&self) -> ShiftWiring {
        let clock = self.clk.rises();
        ShiftWiring { a: on(clock).load(self.d.level()), b: on(clock).load(self.a.level()) }
    }
}

#[derive(Circuit)]
struct ShiftTooFar {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    d: Input<Data>,
    #[contact(3)]
    a: Output<Data>,
    #[contact(4)]
    b: Output<Data>,
}

impl Wiring for ShiftTooFar {
    fn wire(&self) -> ShiftTooFarWiring {
        let clock = self.clk.rises();
        ShiftTooFarWiring { a: on(clock).load(self.d.level()), b: on(clock).load(self.d.level()) }
    }
}
