//! Ripple counters by their sheets' count sequences, and the ones that reset themselves.
use std::collections::BTreeSet;

use gluewright::circuit::Circuit as Logic;
use gluewright::prelude::*;
use gluewright::prove::Question;

use super::bench::{Bench, circuit, of, proved, refuted};

/// Counts of a board whose clock, counting on falls, is contact 1.
fn counts(board: &Logic, outputs: &[u16], levels: &str, events: usize) -> Vec<u32> {
    let mut b = Bench::on(board, levels);
    (0..events)
        .map(|_| {
            b.set("1H");
            b.set("1L");
            b.number(outputs)
        })
        .collect()
}

const J: (&str, &str, &str) = ("J1", "contacts", "1 clk, 2 qa, 3 qb, 4 qc, 5 qd");

/// Fairchild DS006381, BCD count sequence: QA to CKB, 0 to 9.
#[test]
fn the_74ls90_counts_tens() {
    let board = circuit(&[
        J,
        ("U1", "74LS90", "14 clk, 1 qa, 2 GND, 3 GND, 6 GND, 7 GND, 12 qa, 9 qb, 8 qc, 11 qd, 5 VCC, 10 GND"),
    ]);
    assert_eq!(counts(&board, &[2, 3, 4, 5], "1L", 12), [1, 2, 3, 4, 5, 6, 7, 8, 9, 0, 1, 2]);
}

/// Fairchild DS006381, bi-quinary sequence: QD to CKA, counting on CKB; QA QD QC QB = 0000 0001 0010 0011 0100 1000 …
/// Read with QB as the least bit and QA as the highest: 0 to 4, then 8 to 12.
#[test]
fn the_74ls90_counts_twice_five() {
    let board = circuit(&[
        J,
        ("U1", "74LS90", "14 qd, 1 clk, 2 GND, 3 GND, 6 GND, 7 GND, 12 qa, 9 qb, 8 qc, 11 qd, 5 VCC, 10 GND"),
    ]);
    assert_eq!(counts(&board, &[3, 4, 5, 2], "1L", 11), [1, 2, 3, 4, 8, 9, 10, 11, 12, 0, 1]);
}

/// Fairchild DS006381, reset/count table: both R9 set it to nine whatever R0 says, both R0 reset it, else it counts.
#[test]
fn the_74ls90_is_set_to_nine_before_it_is_reset() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 qa, 3 qb, 4 qc, 5 qd, 6 r0, 7 r9"),
        ("U1", "74LS90", "14 clk, 1 qa, 2 r0, 3 r0, 6 r9, 7 r9, 12 qa, 9 qb, 8 qc, 11 qd, 5 VCC, 10 GND"),
    ]);
    let mut b = Bench::on(&board, "1L");
    let mut after = |event: &str| {
        b.set(event);
        b.number(&[2, 3, 4, 5])
    };
    // R9; R0 on top of it; R9 released under R0; a clock edge under R0; R0 released; an edge
    let seen = ["7H", "6H", "7L", "1H", "1L", "6L", "1H", "1L"].map(&mut after);
    assert_eq!(seen, [9, 9, 0, 0, 0, 0, 0, 1]);
}

/// Motorola, FAST AND LS TTL DATA, 5-92: QA to CKB; QD QC QB QA = 0 to 5, then 8 to 13.
#[test]
fn the_74ls92_counts_dozens() {
    let board = circuit(&[J, ("U1", "74LS92", "14 clk, 1 qa, 6 GND, 7 GND, 12 qa, 11 qb, 9 qc, 8 qd, 5 VCC, 10 GND")]);
    assert_eq!(counts(&board, &[2, 3, 4, 5], "1L", 13), [1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13, 0, 1]);
}

fn sixteen() -> Logic {
    circuit(&[J, ("U1", "74LS93", "14 clk, 1 qa, 2 GND, 3 GND, 12 qa, 9 qb, 8 qc, 11 qd, 5 VCC, 10 GND")])
}

#[derive(Circuit)]
struct Sixteen {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2..=5)]
    q: [Output<Data>; 4],
}

impl Wiring for Sixteen {
    fn wire(&self) -> SixteenWiring {
        let next = Word::of(self.q).plus_one();
        SixteenWiring { q: each(|i| on(self.clk.falls()).load(next[i])) }
    }
}

#[derive(Circuit)]
struct Fifteen {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2..=5)]
    q: [Output<Data>; 4],
}

impl Wiring for Fifteen {
    fn wire(&self) -> FifteenWiring {
        let count = Word::of(self.q);
        let next = choose(count.is(14), Word::number(0), count.plus_one());
        FifteenWiring { q: each(|i| on(self.clk.falls()).load(next[i])) }
    }
}

/// Motorola, FAST AND LS TTL DATA, 5-92: QA to CKB; 0 to 15.
#[test]
fn the_74ls93_counts_sixteens_and_so_does_a_synchronous_counter() {
    let all: Vec<u32> = (1..=17).map(|n| n % 16).collect();
    assert_eq!(counts(&sixteen(), &[2, 3, 4, 5], "1L", 17), all);
    proved(&sixteen(), &of::<Sixteen>());
    let r = refuted(&sixteen(), &of::<Fifteen>());
    // it may start at 14: one fall, and it is at 0 instead of at 15
    assert!(r.events.len() <= 2, "{r}");
}

/// QA and QD reset it: it counts to eight, and the nine is a pulse of QA.
fn nine() -> Logic {
    circuit(&[J, ("U1", "74LS93", "14 clk, 1 qa, 2 qa, 3 qd, 12 qa, 9 qb, 8 qc, 11 qd, 5 VCC, 10 GND")])
}

/// By hand: after 8 (QD alone) QA toggles to high, QA ∧ QD resets all; QA has shown low, high, low, QD high, low. The
/// reset makes QA fall, but that is no edge for QB, whose reset is asserted before and released after it.
#[test]
fn a_74ls93_that_resets_itself_on_nine_counts_to_eight_and_pulses() {
    assert_eq!(counts(&nine(), &[2, 3, 4, 5], "1L", 11), [1, 2, 3, 4, 5, 6, 7, 8, 0, 1, 2]);
    let mut b = Bench::with(&nine(), "1H", |cell| cell.contains("q[3]") && !cell.contains("clear"));
    assert_eq!(b.number(&[2, 3, 4, 5]), 8);
    let happened = b.set("1L");
    assert_eq!([2, 3, 4, 5].map(|c| b.way(&happened, c)), ["LHL", "L", "L", "HL"]);
}

/// Power-up at 8, so that the first edge is the one that matters.
fn from_eight(bit: usize, count: Definition<Output<Data>>) -> Definition<Output<Data>> {
    if bit == 3 { count.starts_high() } else { count.starts_low() }
}

/// The nine as a number that never shows: right at every settled point, wrong in between.
#[derive(Circuit)]
struct NineWithoutPulse {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2..=5)]
    q: [Output<Data>; 4],
}

impl Wiring for NineWithoutPulse {
    fn wire(&self) -> NineWithoutPulseWiring {
        let count = Word::of(self.q);
        let next = choose(count.is(8), Word::number(0), count.plus_one());
        NineWithoutPulseWiring { q: each(|i| from_eight(i, on(self.clk.falls()).load(next[i]))) }
    }
}

/// The nine as it is: reached, and left at once.
#[derive(Circuit)]
struct NineWithPulse {
    #[contact(1)]
    clk: Input<Clock>,
    #[contact(2..=5)]
    q: [Output<Data>; 4],
}

impl Wiring for NineWithPulse {
    fn wire(&self) -> NineWithPulseWiring {
        let count = Word::of(self.q);
        let next = count.plus_one();
        let reset = count[0].is_high() & count[3].is_high();
        NineWithPulseWiring { q: each(|i| from_eight(i, on(self.clk.falls()).load(next[i]).clear_while(reset))) }
    }
}

/// Over all states, of which there are few: what settling hides is asked for in either way of proving.
#[test]
fn the_pulse_of_a_self_resetting_counter_counts() {
    // QB and QC are cleared in the moment in which the stage before them falls, and QD where power comes on at 13 or 15:
    // to be looked at, and said so
    let question = Question::new(nine(), of::<NineWithPulse>());
    let Err(Failure::Withheld(w)) = question.ask_by_walk() else { panic!("the races of the reset are to be named") };
    let names: BTreeSet<&str> = w.hidden.iter().map(|h| h.name.as_str()).collect();
    assert!(["U1.q[1]", "U1.q[2]", "U1.q[3]"].iter().all(|name| names.contains(name)), "{w}");
    let acknowledged = w.hidden.iter().fold(question, |question, h| question.acknowledging(h.call.clone()));
    acknowledged.ask_by_walk().unwrap_or_else(|e| panic!("{e}"));
    let r = match Question::new(nine(), of::<NineWithoutPulse>()).ask_by_walk() {
        Err(Failure::Refuted(r)) => r,
        Err(other) => panic!("the pulse is missing: {other}"),
        Ok(proof) => panic!("the pulse is missing: {proof}"),
    };
    assert_eq!(r.events.len(), 1, "from eight, the edge that makes it nine: {r}");
    assert!(r.differences.iter().any(|d| d.name == "q[0]"), "{r}");
}

#[test]
fn the_pulse_of_a_self_resetting_counter_counts_by_induction_too() {
    let question = Question::new(nine(), of::<NineWithPulse>());
    let Err(Failure::Withheld(w)) = question.ask() else { panic!("the races of the reset are to be named") };
    let acknowledged = w.hidden.iter().fold(question, |question, h| question.acknowledging(h.call.clone()));
    acknowledged.ask().unwrap_or_else(|e| panic!("{e}"));
    let r = refuted(&nine(), &of::<NineWithoutPulse>());
    assert!(r.differences.iter().all(|d| d.pulse_only), "{r}");
    assert_eq!(r.differences.iter().map(|d| d.name.as_str()).collect::<Vec<_>>(), ["q[0]"], "{r}");
    // what is shown beside it is what the original does from a start that it has
    use gluewright::simulate::Shown::{High, Low};
    assert_eq!(
        (&r.differences[0].original[..], &r.differences[0].replacement[..]),
        (&[Low, High, Low][..], &[Low][..])
    );
}

/// Two halves of a 74LS393 in a row are a counter to 256 (Motorola, FAST AND LS TTL DATA, SN54/74LS393: each half counts
/// 0 to 15 on falls of its clock; clear is active high).
#[test]
fn two_halves_of_a_74ls393_count_to_256_and_clear_at_any_count() {
    let board = circuit(&[
        ("J1", "contacts", "1 clk, 2 q0, 3 q1, 4 q2, 5 q3, 6 q4, 7 q5, 8 q6, 9 q7, 10 clr"),
        (
            "U1",
            "74LS393",
            "1 clk, 2 clr, 3 q0, 4 q1, 5 q2, 6 q3, 13 q3, 12 clr, 11 q4, 10 q5, 9 q6, 8 q7, 14 VCC, 7 GND",
        ),
    ]);
    let outputs: Vec<u16> = (2..=9).collect();
    let all: Vec<u32> = (1..=260).map(|n| n % 256).collect();
    assert_eq!(counts(&board, &outputs, "1L 10L", 260), all);
    let mut b = Bench::with(&board, "1L 10L", |_| true);
    assert_eq!(b.number(&outputs), 255);
    b.set("10H");
    assert_eq!(b.number(&outputs), 0);
}
