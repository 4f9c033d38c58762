//! Boards on which delays decide: by typical delays where these are far enough apart, and said so; else, or by causality
//! alone, never proved silently and never refuted for one order alone.
// a check may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::prove::{Failure, Question};

/// A card of these packages: reference, type, and each pin's net, supplies left out.
fn card(contacts: &[&str], packages: &[(&str, &str, &[(u16, &str)])]) -> Circuit {
    let mut rows = "ref,part,pin,net\n".to_owned();
    for (i, net) in contacts.iter().enumerate() {
        rows += &format!("J1,contacts,{},{net}\n", i + 1);
    }
    for (reference, part, pins) in packages {
        let (vcc, gnd) = match *part {
            "74LS373" => (20, 10),
            "74LS151" => (16, 8),
            _ => (14, 7),
        };
        rows += &format!("{reference},{part},{vcc},VCC\n{reference},{part},{gnd},GND\n");
        for (pin, net) in *pins {
            rows += &format!("{reference},{part},{pin},{net}\n");
        }
        rows += &format!("{reference},{part},others,open\n");
    }
    let board = Board::from_csv("card.csv", &rows, gluewright_parts::ttl()).unwrap_or_else(|e| panic!("{e}"));
    board.circuit().unwrap_or_else(|e| panic!("{e}"))
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Told {
    Proved,
    Withheld,
    Refuted,
    Other,
}

fn told(original: &Circuit, replacement: &Circuit) -> Told {
    heard(Question::new(original.clone(), replacement.clone()))
}

/// What is told without typical delays.
fn by_causality(original: &Circuit, replacement: &Circuit) -> Told {
    heard(Question::new(original.clone(), replacement.clone()).by_causality_alone())
}

fn heard(question: Question) -> Told {
    match question.ask() {
        Ok(_) => Told::Proved,
        Err(Failure::Withheld(_)) => Told::Withheld,
        Err(Failure::Refuted(_)) => Told::Refuted,
        Err(other) => {
            println!("{other}");
            Told::Other
        }
    }
}

/// Two inverters, `from` to `to`, of a 74LS04 with this reference; then more in the same package.
const TWO: &[(u16, &str)] = &[(1, "x"), (2, "n1"), (3, "n1"), (4, "late")];

#[test]
fn a_latch_behind_its_own_data_follows_if_its_gate_comes_late() {
    let contacts = &["x", "q"];
    let late =
        card(contacts, &[("U1", "74LS04", TWO), ("U2", "74LS373", &[(1, "GND"), (3, "x"), (11, "late"), (2, "q")])]);
    let same = card(contacts, &[("U2", "74LS373", &[(1, "GND"), (3, "x"), (11, "x"), (2, "q")])]);
    let wire = card(contacts, &[("U1", "74LS04", &[(1, "x"), (2, "n1"), (3, "n1"), (4, "q")])]);
    let sticky = card(contacts, &[("U2", "74LS373", &[(1, "GND"), (3, "VCC"), (11, "x"), (2, "q")])]);
    assert_eq!(told(&late, &wire), Told::Proved);
    assert_eq!(told(&late, &sticky), Told::Refuted);
    for replacement in [&wire, &sticky] {
        assert_eq!(by_causality(&late, replacement), Told::Withheld);
        // one net on data and gate is neither before nor after itself
        assert_eq!(told(&same, replacement), Told::Withheld);
    }
    // a difference that no order explains is refuted as before
    let opposite = card(contacts, &[("U1", "74LS04", &[(1, "x"), (2, "q")])]);
    assert_eq!(told(&late, &opposite), Told::Refuted);
}

const SIX: &[(u16, &str)] = &[
    (1, "clock"),
    (2, "n1"),
    (3, "n1"),
    (4, "n2"),
    (5, "n2"),
    (6, "n3"),
    (9, "n3"),
    (8, "n4"),
    (11, "n4"),
    (10, "n5"),
    (13, "n5"),
    (12, "late"),
];

#[test]
fn the_second_of_two_skewed_registers_takes_the_new_bit_after_six_inverters() {
    let contacts = &["clock", "d", "q"];
    let stages = |second: &'static str| -> Vec<(u16, &'static str)> {
        vec![
            (1, "VCC"),
            (4, "VCC"),
            (2, "d"),
            (3, "clock"),
            (5, "one"),
            (10, "VCC"),
            (13, "VCC"),
            (12, "one"),
            (11, second),
            (9, "q"),
        ]
    };
    let (skewed, plain) = (stages("late"), stages("clock"));
    let skewed = card(contacts, &[("U1", "74LS04", SIX), ("U2", "74LS74", &skewed)]);
    let two = card(contacts, &[("U2", "74LS74", &plain)]);
    let one = card(contacts, &[("U2", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "d"), (3, "clock"), (5, "q")])]);
    assert_eq!(told(&skewed, &two), Told::Refuted);
    assert_eq!(told(&skewed, &one), Told::Proved);
    assert_eq!(by_causality(&skewed, &two), Told::Withheld);
    assert_eq!(by_causality(&skewed, &one), Told::Withheld);
    // without skew the one is right and the other wrong
    assert_eq!(told(&two, &two), Told::Proved);
    assert_eq!(told(&two, &one), Told::Refuted);
    // and a stage more is what no order explains
    let three = card(
        contacts,
        &[
            ("U2", "74LS74", &plain.iter().map(|&(p, n)| (p, if n == "q" { "three" } else { n })).collect::<Vec<_>>()),
            ("U3", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "three"), (3, "clock"), (5, "q")]),
        ],
    );
    assert_eq!(told(&skewed, &three), Told::Refuted);
}

/// A toggle clocked by `ck`, which these packages make of contact `a`; without them it is never clocked.
fn pulsed(packages: &[(&str, &str, &[(u16, &str)])]) -> Told {
    let toggle: (&str, &str, &[(u16, &str)]) =
        ("U9", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "q_n"), (6, "q_n"), (3, "ck"), (5, "q")]);
    let mut all = packages.to_vec();
    all.push(toggle);
    let contacts = &["a", "q", "s"];
    let still: (&str, &str, &[(u16, &str)]) =
        ("U9", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "q_n"), (6, "q_n"), (3, "GND"), (5, "q")]);
    told(&card(contacts, &all), &card(contacts, &[still]))
}

#[test]
fn a_pulse_former_is_found_whatever_it_is_made_of() {
    let three: (&str, &str, &[(u16, &str)]) =
        ("U1", "74LS04", &[(1, "a"), (2, "n1"), (3, "n1"), (4, "n2"), (5, "n2"), (6, "late")]);
    // a gate of its own
    assert_eq!(pulsed(&[three, ("U2", "74LS08", &[(1, "a"), (2, "late"), (3, "ck")])]), Told::Withheld);
    // inside an AND-OR-invert package: ck is high but for the pulse
    let inside: &[(u16, &str)] = &[(2, "a"), (3, "late"), (4, "GND"), (5, "GND"), (6, "ck")];
    assert_eq!(pulsed(&[three, ("U2", "74LS51", inside)]), Told::Withheld);
    // a selector: a selects what a made late
    let selector: &[(u16, &str)] =
        &[(7, "GND"), (11, "a"), (10, "GND"), (9, "GND"), (4, "GND"), (3, "late"), (5, "ck")];
    assert_eq!(pulsed(&[three, ("U2", "74LS151", selector)]), Told::Withheld);
    // through a latch that is always open
    let open: &[(u16, &str)] = &[(1, "GND"), (11, "VCC"), (3, "n"), (2, "late")];
    let latched: &[(&str, &str, &[(u16, &str)])] = &[
        ("U1", "74LS04", &[(1, "a"), (2, "n")]),
        ("U2", "74LS373", open),
        ("U3", "74LS08", &[(1, "a"), (2, "late"), (3, "ck")]),
    ];
    assert_eq!(pulsed(latched), Told::Withheld);
    // a doubler, two pulses for each change of a
    let four: &[(u16, &str)] =
        &[(1, "a"), (2, "n1"), (3, "n1"), (4, "n2"), (5, "n2"), (6, "n3"), (9, "n3"), (8, "late")];
    assert_eq!(
        pulsed(&[("U1", "74LS04", four), ("U2", "74LS86", &[(1, "a"), (2, "late"), (3, "ck")])]),
        Told::Withheld
    );
    // outputs that are wired together
    let wired: &[(&str, &str, &[(u16, &str)])] = &[
        ("U1", "74LS04", &[(1, "a"), (2, "n1"), (3, "n1"), (4, "n2")]),
        ("U2", "74LS05", &[(1, "a"), (2, "ck"), (3, "n1"), (4, "ck")]),
    ];
    assert_eq!(pulsed(wired), Told::Withheld);
}

#[test]
fn a_copy_that_comes_later_by_an_open_latch_is_no_matter() {
    let contacts = &["clock", "d", "q"];
    let register = |clock: &'static str| [(1, "VCC"), (4, "VCC"), (2, "d"), (3, clock), (5, "q")];
    let late = card(
        contacts,
        &[
            ("U1", "74LS373", &[(1, "GND"), (11, "VCC"), (3, "clock"), (2, "late")]),
            ("U2", "74LS74", &register("late")),
        ],
    );
    let plain = card(contacts, &[("U2", "74LS74", &register("clock"))]);
    assert_eq!(told(&late, &plain), Told::Proved);
}

#[test]
fn a_clock_that_the_data_makes_races_it() {
    let contacts = &["x", "q"];
    let race = card(
        contacts,
        &[("U1", "74LS04", TWO), ("U2", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "x"), (3, "late"), (5, "q")])],
    );
    let high = card(contacts, &[("U2", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "VCC"), (3, "x"), (5, "q")])]);
    let low = card(contacts, &[("U2", "74LS74", &[(1, "VCC"), (4, "VCC"), (2, "GND"), (3, "x"), (5, "q")])]);
    assert_eq!(told(&race, &high), Told::Proved);
    assert_eq!(told(&race, &low), Told::Refuted);
    assert_eq!(by_causality(&race, &high), Told::Withheld);
    assert_eq!(by_causality(&race, &low), Told::Withheld);
}
