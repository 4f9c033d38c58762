//! Nets with several drivers, pull resistors, contacts that go both ways.
use gluewright::circuit::Circuit as Logic;
use gluewright::prelude::*;

use super::bench::{Bench, board, circuit, of, proved, refuted, unknowns};

/// Two gates of a 74LS125 on one internal net, with enables of their own (active low); a 74LS04 reads it.
/// A 1, its enable 2, B 3, its enable 4, Y 5.
fn bus(enable_b: &str, pull: Option<&str>) -> Logic {
    let (u1, u2) = (
        format!("2 a, 1 en_a, 3 bus, 5 b, 4 {enable_b}, 6 bus, 14 VCC, 7 GND"),
        "1 bus, 2 y, 3 en_a, 4 en_a_n, 14 VCC, 7 GND",
    );
    let mut packages =
        vec![("J1", "contacts", "1 a, 2 en_a, 3 b, 4 en_b, 5 y"), ("U1", "74LS125", u1.as_str()), ("U2", "74LS04", u2)];
    if let Some(pins) = pull {
        packages.push(("R1", "resistor 4k7", pins));
    }
    circuit(&packages)
}

#[derive(Circuit)]
struct Selected {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    en_a: Input<ActiveLow>,
    #[contact(3)]
    b: Input<Data>,
    #[contact(4)]
    en_b: Input<ActiveLow>,
    #[contact(5)]
    y: Output<Data>,
}

impl Wiring for Selected {
    fn wire(&self) -> SelectedWiring {
        let _ = self.en_b;
        SelectedWiring { y: follow(choose(self.en_a.asserted(), !self.a.level(), !self.b.level())) }
    }
}

#[derive(Circuit)]
struct SelectedWrong {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2)]
    en_a: Input<ActiveLow>,
    #[contact(3)]
    b: Input<Data>,
    #[contact(4)]
    en_b: Input<ActiveLow>,
    #[contact(5)]
    y: Output<Data>,
}

impl Wiring for SelectedWrong {
    fn wire(&self) -> SelectedWrongWiring {
        let _ = self.en_b;
        SelectedWrongWiring { y: follow(choose(self.en_a.asserted(), !self.b.level(), !self.a.level())) }
    }
}

/// Enables that exclude each other: the bus is a selector.
#[test]
fn a_bus_whose_drivers_take_turns_is_a_selector() {
    let bus = bus("en_a_n", None);
    let mut b = Bench::on(&bus, "1H 2L 3L 4L");
    assert_eq!(b.shows(&[5]), "L");
    assert_eq!(b.run(&["2H", "3H", "1L", "2L"], &[5]), ["H", "L", "L", "H"]);
    let proof = proved(&bus, &of::<Selected>());
    assert!(proof.findings.iter().all(|f| !f.contains("fight")), "{proof}");
    refuted(&bus, &of::<SelectedWrong>());
}

/// By hand: nobody drives, and the 74LS04 reads a floating net: unknown without a resistor, high with one.
#[test]
fn a_bus_that_nobody_drives_reads_as_its_resistor_says() {
    let mut b = Bench::on(&bus("en_b", None), "1L 2L 3L 4H");
    let happened = b.set("2H");
    let said = unknowns(&b, &happened);
    assert!(said.iter().any(|s| s.contains("`bus`") && s.contains("nothing drives")), "{said:?}");
    let mut b = Bench::on(&bus("en_b", Some("1 VCC, 2 bus")), "1L 2L 3L 4H");
    assert_eq!(b.shows(&[5]), "H");
    let happened = b.set("2H");
    let said = unknowns(&b, &happened);
    assert!(said.is_empty(), "{said:?}");
    assert_eq!(b.shows(&[5]), "L", "pulled up, the bus reads high");
    let mut b = Bench::on(&bus("en_b", Some("1 GND, 2 bus")), "1H 2L 3L 4H");
    b.set("2H");
    assert_eq!(b.shows(&[5]), "H", "pulled down, the bus reads low");
}

/// Both drive, one high and one low: the fight is named where a proof goes through.
#[test]
fn drivers_that_can_fight_are_named() {
    let pulled = bus("en_b", Some("1 VCC, 2 bus"));
    let proof = proved(&pulled, &pulled);
    assert!(proof.findings.iter().any(|f| f.contains("`bus`") && f.contains("fight")), "{proof}");
}

/// Three open collectors of a 74LS03 on one net: low if any pulls. Inputs 1 to 3, net 4.
fn wired(pull: Option<&str>) -> Logic {
    let mut packages = vec![
        ("J1", "contacts", "1 a, 2 b, 3 c, 4 y"),
        ("U1", "74LS03", "1 a, 2 VCC, 3 y, 4 b, 5 VCC, 6 y, 9 c, 10 VCC, 8 y, 14 VCC, 7 GND"),
    ];
    if let Some(pins) = pull {
        packages.push(("R1", "resistor 1k", pins));
    }
    circuit(&packages)
}

#[derive(Circuit)]
struct Wired {
    #[contact(1..=3)]
    a: [Input<ActiveHigh>; 3],
    #[contact(4)]
    y: Output<ActiveLow, OpenCollector>,
}

impl Wiring for Wired {
    fn wire(&self) -> WiredWiring {
        WiredWiring { y: assert_while(any_of(self.a.map(|a| a.asserted()))) }
    }
}

#[derive(Circuit)]
struct WiredPushPull {
    #[contact(1..=3)]
    a: [Input<ActiveHigh>; 3],
    #[contact(4)]
    y: Output<ActiveLow>,
}

impl Wiring for WiredPushPull {
    fn wire(&self) -> WiredPushPullWiring {
        WiredPushPullWiring { y: assert_while(any_of(self.a.map(|a| a.asserted()))) }
    }
}

#[test]
fn wired_open_collectors_pull_low_if_any_does() {
    let mut b = Bench::on(&wired(None), "1L 2L 3L");
    assert_eq!(b.shows(&[4]), "z");
    assert_eq!(b.run(&["1H", "3H", "1L", "3L"], &[4]), ["L", "L", "L", "z"]);
    let mut b = Bench::on(&wired(Some("1 VCC, 2 y")), "1L 2L 3L");
    assert_eq!(b.shows(&[4]), "h");
    assert_eq!(b.run(&["2H", "2L"], &[4]), ["L", "h"]);
}

/// Floating, pulled and driven high are three things.
#[test]
fn a_lost_pull_up_shows_and_so_does_a_driven_high() {
    proved(&wired(None), &of::<Wired>());
    for (original, replacement) in [
        (wired(None), of::<WiredPushPull>()),
        (wired(Some("1 VCC, 2 y")), of::<Wired>()),
        (wired(Some("1 VCC, 2 y")), of::<WiredPushPull>()),
        (wired(None), wired(Some("1 VCC, 2 y"))),
    ] {
        let r = refuted(&original, &replacement);
        assert!(r.events.is_empty(), "power-up with all inputs low shows it: {r}");
    }
    let pulled = wired(Some("1 VCC, 2 y"));
    proved(&pulled, &pulled);
}

/// An internal net of open collectors without a resistor reads high at TTL inputs (common practice, no source), and the
/// trace says so.
#[test]
fn an_internal_open_collector_net_without_a_resistor_is_reported() {
    let packages = [
        ("J1", "contacts", "1 a, 2 y"),
        ("U1", "74LS03", "1 a, 2 a, 3 m, 14 VCC, 7 GND"),
        ("U2", "74LS04", "1 m, 2 y, 14 VCC, 7 GND"),
    ];
    let traced = board(&packages);
    assert!(traced.findings().iter().any(|f| f.to_string().contains("`m`")), "{:?}", traced.findings());
    let mut b = Bench::on(&circuit(&packages), "1L");
    assert_eq!(b.shows(&[2]), "L", "nobody pulls m low: it reads high");
    assert_eq!(b.run(&["1H", "1L"], &[2]), ["H", "L"]);
}

/// A 74LS245, its eight bits side by side: DIR 1, its enable 2, A 3, B 4 (Motorola, FAST AND LS TTL DATA, SN54/74LS245, truth table:
/// enabled with DIR low B goes to A, with DIR high A goes to B; not enabled both float).
fn transceiver() -> Logic {
    circuit(&[
        ("J1", "contacts", "1 dir, 2 en, 3 a, 4 b"),
        (
            "U1",
            "74LS245",
            "1 dir, 19 en, 2 a, 3 a, 4 a, 5 a, 6 a, 7 a, 8 a, 9 a, 18 b, 17 b, 16 b, 15 b, 14 b, 13 b, 12 b, 11 b, \
             20 VCC, 10 GND",
        ),
    ])
}

#[derive(Circuit)]
struct Transceiver {
    #[contact(1)]
    dir: Input<Data>,
    #[contact(2)]
    en: Input<ActiveLow>,
    #[contact(3)]
    a: InOut<Data, ThreeState>,
    #[contact(4)]
    b: InOut<Data, ThreeState>,
}

impl Wiring for Transceiver {
    fn wire(&self) -> TransceiverWiring {
        let (to_b, enabled) = (self.dir.level().is_high(), self.en.asserted());
        TransceiverWiring {
            a: follow(self.b.level()).drive_while(enabled & !to_b),
            b: follow(self.a.level()).drive_while(enabled & to_b),
        }
    }
}

#[derive(Circuit)]
struct Backwards {
    #[contact(1)]
    dir: Input<Data>,
    #[contact(2)]
    en: Input<ActiveLow>,
    #[contact(3)]
    a: InOut<Data, ThreeState>,
    #[contact(4)]
    b: InOut<Data, ThreeState>,
}

impl Wiring for Backwards {
    fn wire(&self) -> BackwardsWiring {
        let (to_b, enabled) = (self.dir.level().is_low(), self.en.asserted());
        BackwardsWiring {
            a: follow(self.b.level()).drive_while(enabled & !to_b),
            b: follow(self.a.level()).drive_while(enabled & to_b),
        }
    }
}

#[test]
fn a_contact_goes_both_ways_one_after_the_other() {
    let mut b = Bench::on(&transceiver(), "1H 2L 3H 4L");
    // A to B; the board's own level at B doesn't matter while B is driven; turn round: A shows B's outside level
    assert_eq!(b.shows(&[3, 4]), "zH");
    assert_eq!(b.run(&["3L", "4H", "1L", "4L", "2H"], &[3, 4]), ["zL", "zL", "Hz", "Lz", "zz"]);
    proved(&transceiver(), &of::<Transceiver>());
    let r = refuted(&transceiver(), &of::<Backwards>());
    assert!(r.events.is_empty(), "{r}");
}
