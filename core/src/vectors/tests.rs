//! Vectors of small devices: what is found, and that they are the same every time.
use super::*;
use crate::device::{Cell, Enable, Function, Literal, Plan, Source, Term, find};

fn term(literals: &[(Source, bool)]) -> Term {
    literals.iter().map(|&(source, high)| Literal { source, complement: !high }).collect()
}

fn pin(n: u16) -> Source {
    Source::Pin(n)
}

fn combinational(terms: Vec<Term>) -> Cell {
    Cell { function: Function::Combinational, inverted: false, enable: Enable::Always, terms }
}

#[test]
fn every_flip_of_a_gate_is_found() {
    let device = find("22V10").unwrap();
    let cell = combinational(vec![term(&[(pin(2), true), (pin(3), true)]), term(&[(pin(4), false)])]);
    let plan = Plan { cells: [(23, cell)].into(), ..Plan::default() };
    let vectors = Vectors::new(device, &device.encode(&plan).unwrap(), Strength::Levels).unwrap();
    report("gate", &vectors);
    // an output whose enable or term reads its own pin has no level of its own; and with pin 4 low the pin is high, so
    // an enable that needs pin 4 high floats only where it ought to be high
    let missed: Vec<_> = vectors.coverage.missed.iter().map(|m| (m.fuse, m.known)).collect();
    // fuse 5809 makes it a register whose clock no vector pulses
    assert_eq!(
        missed,
        [
            (46, Known::Vague),
            (47, Known::Vague),
            (56, Known::FloatsWhereHigh),
            (91, Known::Vague),
            (135, Known::Vague),
            (5809, Known::Vague)
        ]
    );
    assert!(vectors.untested.is_empty(), "{:?}", vectors.untested);
}

fn registered(terms: Vec<Term>, inverted: bool, enable: Enable) -> Cell {
    Cell { function: Function::Registered, inverted, enable, terms }
}

fn report(name: &str, vectors: &Vectors) {
    println!("{name}: {} vectors; {}", vectors.list.len(), vectors.coverage);
    for miss in &vectors.coverage.missed {
        println!("  fuse {}: {}; {}", miss.fuse, miss.meaning, miss.known);
    }
}

/// A counter of three bits with a reset, a latch and a switched pin: the kinds of things that a card has.
pub(super) fn mixed() -> Plan {
    let q = |pin| Source::Feedback(pin);
    // registered with S0 = 1: the true feedback column is the complement of the pin
    let bit0 = registered(vec![term(&[(q(23), true)])], false, Enable::Always);
    let bit1 = registered(
        vec![term(&[(q(22), true), (q(23), false)]), term(&[(q(22), false), (q(23), true)])],
        false,
        Enable::Always,
    );
    let bus = Cell {
        enable: Enable::While(term(&[(pin(5), false)])),
        ..combinational(vec![term(&[(pin(6), true), (q(22), true)])])
    };
    // open = pin 7, data = pin 8, and the term that keeps it steady
    let latch = combinational(vec![
        term(&[(pin(7), true), (pin(8), true)]),
        term(&[(pin(7), false), (q(20), true)]),
        term(&[(pin(8), true), (q(20), true)]),
    ]);
    let cells = [(23, bit0), (22, bit1), (21, bus), (20, latch)];
    Plan { cells: cells.into(), reset: Some(term(&[(pin(2), false)])), ..Plan::default() }
}

#[test]
fn a_counter_a_latch_and_a_switched_pin_are_tested() {
    let device = find("22V10").unwrap();
    let began = std::time::Instant::now();
    let vectors = Vectors::new(device, &device.encode(&mixed()).unwrap(), Strength::Floating).unwrap();
    report("mixed", &vectors);
    println!("{:?}", began.elapsed());
    let again = Vectors::new(device, &device.encode(&mixed()).unwrap(), Strength::Floating).unwrap();
    assert_eq!(vectors.list, again.list, "the same every time");
    assert!(vectors.untested.is_empty(), "{:?}", vectors.untested);
    assert!(vectors.coverage.share() > 0.93);
}
