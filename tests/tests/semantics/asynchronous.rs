//! Clear and preset: asserted both, released together or one after the other, released with an edge, and by oneself.
use gluewright::circuit::Circuit as Logic;
use gluewright::prelude::*;
use gluewright::prove::Question;

use super::bench::{Bench, circuit, of, proved, refuted, unknowns};

/// One half of a 74LS74: CLR 1, PRE 2, D 3, CLK 4, Q 5, Q_N 6.
fn half() -> Logic {
    circuit(&[
        ("J1", "contacts", "1 clr, 2 pre, 3 d, 4 clk, 5 q, 6 q_n"),
        ("U1", "74LS74", "1 clr, 4 pre, 2 d, 3 clk, 5 q, 6 q_n, 14 VCC, 7 GND"),
    ])
}

/// Motorola, FAST AND LS TTL DATA, 5-72, truth table: clear, preset, both (both outputs high), and the one that stays
/// asserted decides.
#[test]
fn the_last_of_clear_and_preset_decides() {
    let mut b = Bench::on(&half(), "1H 2H 3L 4L");
    let events = ["1L", "2L", "1H", "1L", "2H", "1H", "2L", "2H"];
    assert_eq!(b.run(&events, &[5, 6]), ["LH", "HH", "HL", "HH", "LH", "LH", "HL", "HL"]);
}

/// An edge under clear or preset does not count, and neither asserts anything afterwards.
#[test]
fn an_edge_under_clear_does_not_count() {
    let mut b = Bench::on(&half(), "1L 2H 3H 4L");
    assert_eq!(b.run(&["4H", "1H", "4L", "4H"], &[5, 6]), ["LH", "LH", "LH", "HL"]);
}

/// Both on one contact: CLR and PRE 1, Q 2, Q_N 3.
fn tied() -> Logic {
    circuit(&[
        ("J1", "contacts", "1 both, 2 q, 3 q_n"),
        ("U1", "74LS74", "1 both, 4 both, 2 GND, 3 GND, 5 q, 6 q_n, 14 VCC, 7 GND"),
    ])
}

/// The same sheet: both high while both are asserted; "unpredictable if both go high together".
#[test]
fn clear_and_preset_released_together_leave_an_unknown() {
    let mut b = Bench::on(&tied(), "1H");
    let down = b.set("1L");
    assert_eq!(b.shows(&[2, 3]), "HH");
    assert!(down.unknowns.is_empty());
    let up = b.set("1H");
    let said = unknowns(&b, &up);
    assert!(matches!(said.as_slice(), [one] if one.contains("released together")), "{said:?}");
    assert_ne!(b.shows(&[2]), b.shows(&[3]), "the outputs are complements again, whichever way");
}

/// What may stand for [`tied`]: after the release Q is low.
#[derive(Circuit)]
struct ReleasedLow {
    #[contact(1)]
    both: Input<ActiveLow>,
    #[contact(2)]
    q: Output<ActiveHigh>,
    #[contact(3)]
    q_n: Output<ActiveHigh>,
}

impl Wiring for ReleasedLow {
    fn wire(&self) -> ReleasedLowWiring {
        ReleasedLowWiring { q: assert_while(self.both.asserted()), q_n: assert_while(Assertion::ALWAYS) }
    }
}

/// What may not: Q_N is low while both are asserted.
#[derive(Circuit)]
struct NeverBothHigh {
    #[contact(1)]
    both: Input<ActiveLow>,
    #[contact(2)]
    q: Output<ActiveHigh>,
    #[contact(3)]
    q_n: Output<ActiveHigh>,
}

impl Wiring for NeverBothHigh {
    fn wire(&self) -> NeverBothHighWiring {
        NeverBothHighWiring { q: assert_while(self.both.asserted()), q_n: assert_while(!self.both.asserted()) }
    }
}

/// The original's unknown is resolved in the replacement's favour, but not what the sheet says.
#[test]
fn a_replacement_may_choose_what_the_original_leaves_open_and_nothing_else() {
    let r = refuted(&tied(), &of::<NeverBothHigh>());
    assert_eq!(r.differences.iter().map(|d| d.name.as_str()).collect::<Vec<_>>(), ["q_n"], "{r}");
    match Question::new(tied(), of::<ReleasedLow>()).ask() {
        Ok(_) => {}
        Err(Failure::Undecided(u)) => println!("undecided: {u}"),
        Err(other) => panic!("{other}"),
    }
}

/// Its own unknown against the replacement: a real 74LS74 half may come out either way, the original's is fixed by
/// wiring only clear.
#[test]
fn a_replacement_with_an_unknown_of_its_own_must_hold_either_way() {
    let cleared = circuit(&[
        ("J1", "contacts", "1 both, 2 q, 3 q_n"),
        ("U1", "74LS74", "1 both, 4 VCC, 2 GND, 3 GND, 5 q, 6 q_n, 14 VCC, 7 GND"),
    ]);
    refuted(&cleared, &tied());
    let only_q = |both: &str| {
        circuit(&[
            ("J1", "contacts", "1 both, 2 q"),
            ("U1", "74LS74", &format!("1 {both}, 4 both, 2 GND, 3 GND, 5 q, 14 VCC, 7 GND")),
        ])
    };
    // preset alone: Q stays high after the release; with clear too, it is anybody's guess
    refuted(&only_q("VCC"), &only_q("both"));
    proved(&only_q("VCC"), &only_q("VCC"));
}

/// CLR on the clock line itself: a clear that is released by the very edge.
#[test]
fn a_clear_released_by_the_edge_itself_is_reported() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 d, 3 q"),
        ("U1", "74LS74", "1 clk, 4 VCC, 2 d, 3 clk, 5 q, 14 VCC, 7 GND"),
    ]);
    let mut b = Bench::on(&board, "1L 2H");
    let happened = b.set("1H");
    let said = unknowns(&b, &happened);
    assert!(matches!(said.as_slice(), [one] if one.contains("together with a clock edge")), "{said:?}");
    // with d low an edge that counts and one that doesn't come to the same
    let mut b = Bench::on(&board, "1L 2L");
    let happened = b.set("1H");
    assert!(unknowns(&b, &happened).is_empty());
}

/// A 74LS74 half, D high, whose complement clears it: each rise of the clock is a pulse of Q.
fn pulser() -> Logic {
    circuit(&[
        ("J1", "contacts", "1 clk, 2 q"),
        ("U1", "74LS74", "1 q_n, 4 VCC, 2 VCC, 3 clk, 5 q, 6 q_n, 14 VCC, 7 GND"),
    ])
}

#[derive(Circuit)]
struct Pulser {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    q: Output<Data>,
}

impl Wiring for Pulser {
    fn wire(&self) -> PulserWiring {
        PulserWiring { q: on(self.clk.rises()).load(Level::HIGH).clear_while(self.q.level().is_high()) }
    }
}

#[derive(Circuit)]
struct NoPulse {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2)]
    q: Output<Data>,
}

impl Wiring for NoPulse {
    fn wire(&self) -> NoPulseWiring {
        let _ = self.clk;
        NoPulseWiring { q: follow(Level::LOW) }
    }
}

#[test]
fn a_flip_flop_that_clears_itself_is_not_a_constant() {
    let mut b = Bench::on(&pulser(), "1L");
    let happened = b.set("1H");
    assert_eq!(b.way(&happened, 2), "LHL");
    let happened = b.set("1L");
    assert_eq!(b.way(&happened, 2), "L");
    proved(&pulser(), &of::<Pulser>());
    let r = refuted(&pulser(), &of::<NoPulse>());
    assert!(r.events.len() <= 2 && r.differences.iter().all(|d| d.pulse_only), "{r}");
}
