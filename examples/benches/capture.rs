//! A million samples of the sample card, read, checked and searched for a fault:
//! `cargo bench -p gluewright-examples --bench capture`.
//!
//! Beside them stand the plain ways in the same run: the general-purpose CSV reader that goes over the same bytes and
//! keeps nothing, and our simulator that runs the same million events from one known start while it writes them down.
#![allow(clippy::expect_used)] // a bench stops at what it did not expect
use std::io::Write;
use std::time::{Duration, Instant};

use gluewright::capture::{self, Channels, Finding};
use gluewright::circuit::Direction;
use gluewright::circuit_of;
use gluewright::simulate::{Shown, Simulator};
use gluewright_examples::sample_card::{SampleCard, lost_card};

/// A capture of the card with a million changes in CSV, as our own simulator runs it, each output 30 ns late; `wait` is
/// stuck high in it from the beginning on if that is `broken`. With the time that the simulator and the writing took.
fn million(broken: bool) -> (Vec<u8>, Duration) {
    let original = lost_card().expect("sound").circuit().expect("logic");
    let labels: Vec<_> = original.contacts().iter().map(|c| c.label.clone()).collect();
    let (reset, clock) = (gluewright::circuit::Label::from(6u16), gluewright::circuit::Label::from(1u16));
    let inputs: Vec<_> =
        original.contacts().iter().filter(|c| c.direction == Direction::Input).map(|c| c.label.clone()).collect();
    let mut levels: Vec<_> = inputs.iter().map(|l| (l.clone(), *l == reset)).collect();
    let (mut simulator, _) = Simulator::new(&original, &levels, |cell, _| cell % 2 == 0).expect("its contacts");
    let began = Instant::now();
    let mut text = b"time (ns)".to_vec();
    for label in &labels {
        write!(text, ",{label}").expect("memory");
    }
    text.push(b'\n');
    let mut drawn = 1984u64;
    for step in 0..1_000_000u64 {
        drawn = drawn.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        let pick = (drawn >> 33) as usize;
        let at = match pick % 3 {
            0 => (pick / 3) % inputs.len(),
            _ => inputs.iter().position(|l| *l == clock).expect("a clock"),
        };
        let level = match levels[at].0 == reset {
            true => !pick.is_multiple_of(31),
            false => !levels[at].1,
        };
        levels[at].1 = level;
        simulator.event(&[levels[at].clone()]).expect("its contact");
        write!(text, "{}", step * 200).expect("memory");
        for label in &labels {
            let given = levels.iter().find(|(l, _)| l == label).map(|(_, high)| *high);
            let high = given.unwrap_or_else(|| match simulator.shown(label, 0).expect("its contact") {
                Shown::High | Shown::PulledHigh | Shown::Floating => true,
                Shown::Low | Shown::PulledLow => false,
            });
            let high = high || (broken && label.as_str() == "17");
            text.extend_from_slice(if high { b",1" } else { b",0" });
        }
        text.push(b'\n');
    }
    (text, began.elapsed())
}

fn timed<T>(run: impl FnOnce() -> T) -> (Duration, T) {
    let began = Instant::now();
    let value = run();
    (began.elapsed(), value)
}

fn main() {
    // as `cargo test --benches` calls it: a million samples are too many for that
    if std::env::args().any(|a| a == "--test") {
        return;
    }
    let board = lost_card().expect("sound");
    let (original, replacement) = (board.circuit().expect("logic"), circuit_of::<SampleCard>().expect("it builds"));
    println!("{:<62} {:>8}", "a million samples of 16 contacts", "seconds");
    for broken in [false, true] {
        let (text, simulated) = million(broken);
        let line = |what: &str, time: Duration, beside: Option<(&str, Duration)>| {
            let ratio = beside.map_or_else(String::new, |(other, than)| {
                format!("   {:.1} times {other}", time.as_secs_f64() / than.as_secs_f64())
            });
            println!("{what:<62} {:>8.2}{ratio}", time.as_secs_f64());
        };
        println!("\n{}, {} bytes", if broken { "`wait` stuck high" } else { "the card as it should be" }, text.len());
        line("simulated from one start and written", simulated, None);
        let (plain, records) = timed(|| {
            let mut reader = csv::Reader::from_reader(text.as_slice());
            let mut record = csv::ByteRecord::new();
            let mut count = 0u32;
            while reader.read_byte_record(&mut record).expect("it reads") {
                count += 1;
            }
            count
        });
        assert_eq!(records, 1_000_000);
        line("gone over by the CSV reader alone", plain, None);
        let circuits = [&original, &replacement];
        let skew = Duration::from_nanos(100);
        let (read, observed) =
            timed(|| capture::read("card.csv", text.as_slice(), &Channels::by_name(), circuits, skew, |_| ()));
        let observed = observed.expect("it reads");
        line("read into moments", read, Some(("the CSV reader", plain)));
        for (name, way) in [("original", true), ("replacement", false)] {
            let (time, finding) = timed(|| if way { observed.original(|_| ()) } else { observed.replacement(|_| ()) });
            assert_eq!(matches!(finding, Ok(Finding::Explained { .. })), !broken);
            line(&format!("checked against every start of the {name}"), time, Some(("the simulator", simulated)));
        }
        if broken {
            let (time, faults) = timed(|| observed.faults(Some(&board), Duration::from_secs(60)));
            assert!(faults.found.iter().any(|f| f.words == "U4 pin 8 is stuck high"), "{faults}");
            line("searched for the single fault that explains it", time, Some(("the simulator", simulated)));
        }
    }
}
