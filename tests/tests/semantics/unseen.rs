//! What no contact shows is no matter in the original: it may start, count and swing as it likes. A replacement is built,
//! and must come to rest everywhere.
use gluewright::prelude::Failure;
use gluewright::prove::Question;

use super::bench::circuit;

/// Contacts 1 and 2, and an inverter from one to the other.
const INVERTER: [(&str, &str, &str); 2] = [("J1", "contacts", "1 a, 2 y"), ("U1", "74LS04", "14 VCC, 7 GND, 1 a, 2 y")];

/// Another inverter of the same package on itself: it swings for ever, and nobody sees it.
const RING: [(&str, &str, &str); 2] =
    [("J1", "contacts", "1 a, 2 y"), ("U1", "74LS04", "14 VCC, 7 GND, 1 a, 2 y, 3 ring, 4 ring")];

/// The same, and contact 2 hangs on the ring while contact 1 is high.
const SEEN: [(&str, &str, &str); 3] = [
    ("J1", "contacts", "1 a, 2 y"),
    ("U1", "74LS04", "14 VCC, 7 GND, 3 ring, 4 ring"),
    ("U2", "74LS00", "14 VCC, 7 GND, 1 a, 2 ring, 3 y"),
];

#[test]
fn a_ring_that_no_contact_shows_is_no_obstacle_in_the_original() {
    let proof = Question::new(circuit(&RING), circuit(&INVERTER)).ask().unwrap_or_else(|e| panic!("{e}"));
    // but it is told
    assert!(proof.findings.iter().any(|f| f.contains("no contact shows") && f.contains("`ring`")), "{proof}");
    let proof = Question::new(circuit(&INVERTER), circuit(&INVERTER)).ask().unwrap_or_else(|e| panic!("{e}"));
    assert!(proof.findings.is_empty(), "{proof}");
}

/// Two NAND gates of a 74LS00, each on the other: unseen too, but it rests whichever way.
#[test]
fn a_latch_that_no_contact_shows_rests() {
    let latch = "14 VCC, 7 GND, 1 a, 2 q_n, 3 q, 4 a, 5 q, 6 q_n";
    let original = [INVERTER[0], INVERTER[1], ("U2", "74LS00", latch)];
    let proof = Question::new(circuit(&original), circuit(&INVERTER)).ask().unwrap_or_else(|e| panic!("{e}"));
    assert!(proof.findings.is_empty(), "{proof}");
}

#[test]
fn a_ring_that_no_contact_shows_is_one_in_the_replacement() {
    // burned so, it would swing for ever
    let verdict = Question::new(circuit(&INVERTER), circuit(&RING)).ask().expect_err("it swings");
    assert!(!matches!(verdict, Failure::Refuted(_)), "{verdict}");
}

#[test]
fn one_that_shows_is() {
    let verdict = Question::new(circuit(&SEEN), circuit(&INVERTER)).ask().expect_err("it swings");
    assert!(!matches!(verdict, Failure::Refuted(_)), "{verdict}");
}

/// A gated counter of which contact 3 shows the lowest bit; 15 more bits count after it, unseen. The stand-in is one
/// flip-flop of a 74LS74 that starts as a counter does: either way.
#[test]
fn a_counter_of_which_one_bit_shows_is_that_bit() {
    let long = circuit(&[
        ("J1", "contacts", "1 clk, 2 clr, 3 q"),
        ("U1", "74LS393", "14 VCC, 7 GND, 1 clk, 2 clr, 3 q, 4 b, 5 c, 6 d, 13 d, 12 clr, 11 e, 10 f, 9 g, 8 h"),
        ("U2", "74LS393", "14 VCC, 7 GND, 1 h, 2 clr, 3 i, 4 j, 5 k, 6 l, 13 l, 12 clr, 11 m, 10 n, 9 o, 8 p"),
    ]);
    let short = |d: &str| {
        let flip_flop = format!("14 VCC, 7 GND, 1 clr_n, 2 {d}, 3 clk_n, 4 VCC, 5 q, 6 q_n");
        circuit(&[
            ("J1", "contacts", "1 clk, 2 clr, 3 q"),
            ("U1", "74LS04", "14 VCC, 7 GND, 1 clk, 2 clk_n, 3 clr, 4 clr_n"),
            ("U2", "74LS74", &flip_flop),
        ])
    };
    let proof = Question::new(long.clone(), short("q_n")).settled_only().ask();
    let proof = proof.unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(proof.matches.len(), 1, "{proof}");
    // one that stays as it is
    let wrong = Question::new(long, short("q")).settled_only().ask();
    assert!(matches!(wrong, Err(Failure::Refuted(_))), "{wrong:?}");
}
