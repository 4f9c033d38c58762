//! Vectors of small devices: what is found, and that they are the same every time.
use super::*;
use gluewright_devices::device::{Cell, Enable, Function, Literal, Plan, Source, Term, find};
use gluewright_kernel::prove::{Failure, Question};

fn term(literals: &[(Source, bool)]) -> Term {
    literals.iter().map(|&(source, high)| Literal { source, complement: !high }).collect()
}

fn pin(n: u16) -> Source {
    Source::Pin(n)
}

fn combinational(terms: Vec<Term>) -> Cell {
    Cell { function: Function::Combinational, inverted: false, enable: Enable::Always, terms, exclusive: Vec::new() }
}

/// An and-or gate at pin 23.
fn gate() -> Plan {
    let cell = combinational(vec![term(&[(pin(2), true), (pin(3), true)]), term(&[(pin(4), false)])]);
    Plan { cells: [(23, cell)].into(), ..Plan::default() }
}

#[test]
fn every_flip_of_a_gate_is_found() {
    let device = find("22V10").unwrap();
    let vectors = Vectors::new(device, &device.encode(&gate()).unwrap(), Strength::Levels).unwrap();
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
    assert_eq!(vectors.coverage.undecided(), 0);
    assert!(vectors.untested.is_empty(), "{:?}", vectors.untested);
}

fn registered(terms: Vec<Term>, inverted: bool, enable: Enable) -> Cell {
    Cell { function: Function::Registered, inverted, enable, terms, exclusive: Vec::new() }
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
    assert!(vectors.coverage.share() > 0.95, "{}", vectors.coverage);
    assert_eq!(vectors.coverage.undecided(), 0, "every vector was tried for the others");
}

/// What the prover says of a flip: `None` if it can't tell.
fn changes(device: &gluewright_devices::device::Device, plan: &Plan, fuse: usize) -> Option<bool> {
    let fuses = device.encode(plan).unwrap();
    let mut other = fuses.clone();
    other.set(fuse, fuses.get(fuse) == Some(false));
    let question = Question::new(device.lift(&fuses).unwrap(), device.lift(&other).unwrap());
    match question.settled_only().ask() {
        Ok(_) => Some(false),
        Err(Failure::Refuted(_)) => Some(true),
        Err(_) => None,
    }
}

#[test]
fn the_prover_agrees_on_what_is_harmless_and_what_is_not() {
    let device = find("22V10").unwrap();
    // two terms where a third is true whenever both registers agree, so that some literals never matter
    let q = |pin| Source::Feedback(pin);
    let follows = registered(vec![term(&[(pin(2), true)])], false, Enable::Always);
    let after = registered(vec![term(&[(q(23), false), (pin(2), true)])], false, Enable::Always);
    let both = combinational(vec![term(&[(q(23), false), (q(22), false)]), term(&[(pin(3), true), (q(22), true)])]);
    let never = Plan { cells: [(23, follows), (22, after), (21, both)].into(), ..Plan::default() };
    for (name, plan, harmless_at_least) in [("mixed", mixed(), 1), ("never", never, 2)] {
        let vectors = Vectors::new(device, &device.encode(&plan).unwrap(), Strength::Floating).unwrap();
        report(name, &vectors);
        let coverage = &vectors.coverage;
        assert!(coverage.harmless.len() >= harmless_at_least, "{name}: {:?}", coverage.harmless);
        for &fuse in &coverage.harmless {
            assert_eq!(changes(device, &plan, fuse), Some(false), "{name}: fuse {fuse}");
        }
        for &fuse in coverage.found.iter().step_by(40) {
            assert_ne!(changes(device, &plan, fuse), Some(false), "{name}: fuse {fuse}");
        }
        let floats =
            coverage.missed.iter().filter(|m| matches!(m.known, Known::FloatsWhereHigh | Known::FloatsWhereLow));
        for miss in floats.take(4) {
            assert_eq!(changes(device, &plan, miss.fuse), Some(true), "{name}: {miss}");
        }
    }
}

#[test]
fn a_flip_that_takes_six_vectors_to_show_is_found() {
    // four registers in a row behind pin 2: what the first loads shows at pin 20 four pulses later
    let device = find("22V10").unwrap();
    let q = |pin| Source::Feedback(pin);
    let hidden = |terms| registered(terms, false, Enable::While(term(&[(pin(2), true), (pin(2), false)])));
    let first = hidden(vec![term(&[(pin(2), true), (pin(3), true), (pin(4), true)])]);
    let second = hidden(vec![term(&[(q(23), false)])]);
    let third = hidden(vec![term(&[(q(22), false)])]);
    let last = registered(vec![term(&[(q(21), false), (pin(5), true)])], false, Enable::Always);
    let plan = Plan { cells: [(23, first), (22, second), (21, third), (20, last)].into(), ..Plan::default() };
    let vectors = Vectors::new(device, &device.encode(&plan).unwrap(), Strength::Levels).unwrap();
    report("row of registers", &vectors);
    assert_eq!(vectors.coverage.undecided(), 0);
    // row 2, columns 4 and 8: pins 2 and 3 in the first term
    for fuse in [2 * 44 + 4, 2 * 44 + 8] {
        assert!(vectors.coverage.found.contains(&fuse), "fuse {fuse}");
    }
}

/// `GLUEWRIGHT_FUSES=out/sample_card/22v10.jed cargo test -p gluewright --release --lib vectors -- --ignored --nocapture`
#[test]
#[ignore = "shows what the vectors of a fuse file miss"]
fn what_the_vectors_of_a_file_miss() {
    let path = std::env::var("GLUEWRIGHT_FUSES").unwrap();
    let device = find(&std::path::Path::new(&path).file_stem().unwrap().to_string_lossy()).unwrap();
    let (file, _) = gluewright_devices::fusefile::read(&path, &std::fs::read(&path).unwrap()).unwrap();
    let began = std::time::Instant::now();
    let vectors = Vectors::new(device, &file.fuses, Strength::default()).unwrap();
    println!("{:?}", began.elapsed());
    report(&path, &vectors);
}

#[test]
fn no_time_gives_no_vectors_and_says_how_far_they_were() {
    let device = find("22V10").unwrap();
    let fuses = device.encode(&mixed()).unwrap();
    let stop = gluewright_kernel::limit::Stop::new();
    let limit = Limit::default().or_when(Some(stop));
    let made = Vectors::within(device, &fuses, Strength::Levels, limit).unwrap();
    let plainly = Vectors::new(device, &fuses, Strength::Levels).unwrap();
    assert_eq!(made.list, plainly.list);
    stop.stop();
    match Vectors::within(device, &fuses, Strength::Levels, limit) {
        Err(NoVectors::Over { over: Over::Stopped, vectors, found, of }) => {
            assert!(vectors <= plainly.list.len() && found < of, "{vectors} {found} {of}");
        }
        other => panic!("{other:?}"),
    }
}
