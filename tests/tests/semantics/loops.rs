//! Gates that feed themselves: set-reset latches, and rings that never rest.
use gluewright::circuit::Circuit as Logic;
use gluewright::prelude::*;
use gluewright::prove::Question;
use gluewright::simulate::Simulator;

use super::bench::{Bench, circuit, of, refuted};

/// Two cross-coupled NAND gates of a 74LS00: set 1 and reset 2 are active low, Q 3, Q_N 4.
fn cross_coupled() -> Logic {
    circuit(&[
        ("J1", "contacts", "1 set_n, 2 reset_n, 3 q, 4 q_n"),
        ("U1", "74LS00", "1 set_n, 2 q_n, 3 q, 4 reset_n, 5 q, 6 q_n, 14 VCC, 7 GND"),
    ])
}

/// By hand, from the gate equations q = ¬(set_n ∧ q_n), q_n = ¬(reset_n ∧ q): as the 74LS279's function table
/// (Motorola, FAST AND LS TTL DATA, SN54/74LS279): set, hold, reset, hold, both (both high), the last one wins.
#[test]
fn cross_coupled_gates_are_a_latch() {
    let mut b = Bench::on(&cross_coupled(), "1H 2L");
    assert_eq!(b.shows(&[3, 4]), "LH");
    let events = ["2H", "1L", "1H", "2L", "2H", "1L", "2L", "1H", "2H"];
    let expected = ["LH", "HL", "HL", "LH", "LH", "HL", "HH", "LH", "LH"];
    assert_eq!(b.run(&events, &[3, 4]), expected);
}

/// Either start is at rest while neither input is asserted.
#[test]
fn a_latch_of_gates_starts_either_way() {
    let levels = [(1u16.into(), true), (2u16.into(), true)];
    let (sim, happened) = Simulator::new(&cross_coupled(), &levels, |_, lane| lane & 1 == 1).expect("contacts");
    assert_eq!(happened.restless, 0);
    let shown = |lane| [3u16, 4].map(|c| sim.shown(&c.into(), lane).expect("contact").to_string());
    assert_ne!(shown(0), shown(1));
    assert_ne!(shown(0)[0], shown(0)[1]);
}

#[derive(Circuit)]
struct SetReset {
    #[contact(1)]
    set: Input<ActiveLow>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    q: Output<Data>,
    #[contact(4)]
    q_n: Output<Data>,
    held: Buried<Latch>,
}

impl Wiring for SetReset {
    fn wire(&self) -> SetResetWiring {
        let (set, reset) = (self.set.asserted(), self.reset.asserted());
        SetResetWiring {
            held: open_while(set | reset).follow(high_while(set)),
            q: follow(high_while(set | (!reset & self.held.q().is_high()))),
            q_n: follow(high_while(reset | (!set & self.held.q().is_low()))),
        }
    }
}

#[derive(Circuit)]
struct ResetFirst {
    #[contact(1)]
    set: Input<ActiveLow>,
    #[contact(2)]
    reset: Input<ActiveLow>,
    #[contact(3)]
    q: Output<Data>,
    #[contact(4)]
    q_n: Output<Data>,
    held: Buried<Latch>,
}

impl Wiring for ResetFirst {
    fn wire(&self) -> ResetFirstWiring {
        let (set, reset) = (self.set.asserted(), self.reset.asserted());
        ResetFirstWiring {
            held: open_while(set | reset).follow(high_while(set & !reset)),
            q: follow(high_while(!reset & (set | self.held.q().is_high()))),
            q_n: follow(high_while(reset | (!set & self.held.q().is_low()))),
        }
    }
}

/// The replacement is a latch with gates around it, so that both outputs are high while both inputs are asserted; one
/// that lets reset win is told from it there.
#[test]
fn a_latch_of_gates_may_be_replaced_by_a_latch() {
    // `set` is its data and opens it: which of the two a latch sees first when `set` ends is not for logic to say
    let question = Question::new(cross_coupled(), of::<SetReset>());
    assert!(matches!(question.ask(), Err(Failure::Withheld(_))));
    question
        .acknowledging("data of held of the replacement when 1 set changes")
        .ask()
        .unwrap_or_else(|e| panic!("{e}"));
    let r = refuted(&cross_coupled(), &of::<ResetFirst>());
    assert!(r.shortest && r.events.len() <= 1, "{r}");
}

/// An odd ring of gates never rests, whatever it starts from: it is no constant, and nothing is proved about it.
#[test]
fn a_ring_of_three_inverters_is_not_proved_to_be_anything() {
    let ring =
        circuit(&[("J1", "contacts", "1 a, 2 y"), ("U1", "74LS04", "1 x, 2 y, 3 y, 4 z, 5 z, 6 x, 14 VCC, 7 GND")]);
    let (_, happened) = Simulator::new(&ring, &[], |_, lane| lane & 1 == 1).expect("contacts");
    assert_eq!(happened.restless, u64::MAX);
    for level in [Level::LOW, Level::HIGH] {
        let constant = constant(level);
        for (original, replacement) in [(&ring, &constant), (&constant, &ring), (&ring, &ring)] {
            let verdict = Question::new(original.clone(), replacement.clone()).to_depth(3).ask();
            assert!(verdict.is_err(), "{verdict:?}");
        }
    }
}

/// Contact 2 at one level.
fn constant(level: Level) -> Logic {
    constants(&[(2, level)])
}

/// Each of these contacts at one level.
fn constants(levels: &[(u16, Level)]) -> Logic {
    use gluewright::circuit::{Contact, Direction, Expr, Origin, Polarity};
    let mut c = Logic::new("constant");
    for (label, level) in levels {
        let level = if level.expression() == Level::HIGH.expression() { Expr::HIGH } else { Expr::LOW };
        let name = format!("y{label}");
        let net = c.add_node(name.clone(), level, Origin::Nowhere);
        let (polarity, direction, origin) = (Polarity::Data, Direction::Output, Origin::Nowhere);
        c.add_contact(Contact { label: (*label).into(), name, net, polarity, direction, origin });
    }
    c
}

/// A ring with a gate in it rests while the gate is shut. A replacement for the resting part alone is not proved.
#[test]
fn a_ring_that_is_let_go_is_not_proved() {
    let ring = circuit(&[
        ("J1", "contacts", "1 go, 2 y"),
        ("U1", "74LS00", "1 go, 2 y, 3 x, 4 x, 5 VCC, 6 w, 9 w, 10 VCC, 8 y, 14 VCC, 7 GND"),
    ]);
    let (mut sim, happened) = Simulator::new(&ring, &[], |_, _| false).expect("contacts");
    assert_eq!(happened.restless, 0, "shut, it rests");
    let happened = sim.event(&[(1u16.into(), true)]).expect("contacts");
    assert_eq!(happened.restless, u64::MAX);
    let verdict = Question::new(ring.clone(), of::<Shut>()).to_depth(3).ask();
    assert!(verdict.is_err(), "{verdict:?}");
    let verdict = Question::new(of::<Shut>(), ring).to_depth(3).ask();
    assert!(verdict.is_err(), "{verdict:?}");
}

/// A flip-flop that nothing clocks keeps what it has at power-up, and while it is set it lets a ring go, which contact 3 shows.
/// So contact 2 is high only from a start that never rests, and such a start explains nothing: it is not proved that the contact
/// may always be high.
#[test]
fn a_start_that_never_rests_explains_nothing() {
    let card = circuit(&[
        ("J1", "contacts", "2 y, 3 x"),
        ("U1", "74LS74", "1 VCC, 2 GND, 3 GND, 4 VCC, 5 y, 14 VCC, 7 GND"),
        ("U2", "74LS00", "1 y, 2 x, 3 x, 14 VCC, 7 GND"),
    ]);
    let (sim, happened) = Simulator::new(&card, &[], |_, lane| lane & 1 == 1).expect("contacts");
    let high = |lane: u32| sim.shown(&2u16.into(), lane).expect("contact").to_string() == "high";
    assert_eq!(happened.restless, (0..64).fold(0, |all, lane| all | u64::from(high(lane)) << lane));
    assert!(happened.restless != 0 && happened.restless != u64::MAX);
    let ask = |y| Question::new(card.clone(), constants(&[(2, y), (3, Level::HIGH)])).to_depth(3).ask();
    let (never_seen_at_rest, seen) = (ask(Level::HIGH), ask(Level::LOW));
    println!("{never_seen_at_rest:?}\n{seen:?}");
    assert!(never_seen_at_rest.is_err() && !matches!(&seen, Err(Failure::Refuted(_))));
}

#[derive(Circuit)]
struct Shut {
    #[contact(1)]
    go: Input<Data>,
    #[contact(2)]
    y: Output<Data>,
}

impl Wiring for Shut {
    fn wire(&self) -> ShutWiring {
        let _ = self.go;
        ShutWiring { y: follow(Level::HIGH) }
    }
}
