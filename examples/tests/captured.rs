//! Captures of the sample card from an outside simulator (Icarus Verilog, Debian package `iverilog`), whole and with one
//! thing broken. The description in Verilog is written by hand beside this file.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs::File;
use std::io::{BufReader, Write};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use gluewright::capture::{self, Channels, Finding, Observed};
use gluewright::circuit::Direction;
use gluewright::circuit_of;
use gluewright::simulate::{Shown, Simulator};
use gluewright_examples::sample_card::{SampleCard, lost_card};

/// Whether the simulator is there. A check without it fails where `CI` is set, and elsewhere says loudly that it was left
/// out.
fn simulator() -> bool {
    let there = Command::new("iverilog").arg("-V").output().is_ok();
    if !there {
        assert!(std::env::var_os("CI").is_none(), "iverilog is missing: sudo apt-get install -y iverilog");
        let line = "\nLEFT OUT: no capture was made and checked: sudo apt-get install -y iverilog\n";
        // past the capture of the test harness, so that it is seen
        let _ = std::io::stderr().write_all(line.as_bytes());
    }
    there
}

/// Simulates the card with a slip, or with none.
fn simulate(folder: &Path, slip: u8) -> Observed {
    let run = |program: &str, args: &[&str]| {
        let done = Command::new(program).args(args).current_dir(folder).output();
        let done = done.unwrap_or_else(|e| panic!("{program}: {e}; it is in Debian's package iverilog"));
        assert!(done.status.success(), "{program}: {}", String::from_utf8_lossy(&done.stderr));
    };
    let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/sample_card.v");
    run("iverilog", &["-g2005", &format!("-DSLIP_{slip}"), "-o", "card.vvp", "-s", "bench", source]);
    run("vvp", &["-n", "card.vvp", "+steps=600"]);
    let dump = BufReader::new(File::open(folder.join("card.vcd")).expect("it was written"));
    let original = lost_card().expect("sound").circuit().expect("logic");
    let replacement = circuit_of::<SampleCard>().expect("it builds");
    let circuits = [&original, &replacement];
    capture::read("card.vcd", dump, &Channels::by_name(), circuits, Duration::from_nanos(100), |_| ())
        .expect("it reads")
}

#[test]
fn what_an_outside_simulator_shows_of_the_card_is_explained() {
    if !simulator() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let observed = simulate(folder.path(), 0);
    assert!(observed.changes() > 500);
    for finding in [observed.original(|_| ()), observed.replacement(|_| ())] {
        assert!(matches!(finding, Ok(Finding::Explained { moments }) if moments > 300), "{finding:?}");
    }
}

#[test]
fn one_broken_thing_is_named() {
    if !simulator() {
        return;
    }
    let board = lost_card().expect("sound");
    let folder = tempfile::tempdir().expect("a folder");
    for (slip, contact, fault) in
        [(1, "17", "U4 pin 8 is stuck high"), (3, "19", "U3 pin 14 is on the net `ended` instead of `again`")]
    {
        let observed = simulate(folder.path(), slip);
        let finding = observed.original(|_| ()).expect("it can be told");
        println!("The original {finding}.");
        let Finding::Unexplained { disagreements, .. } = finding else { panic!("{fault}: explained") };
        let faults = observed.faults(Some(&board), Some(gluewright_parts::ttl()), Duration::from_secs(30));
        println!("{faults}");
        assert!(faults.found.iter().any(|f| f.words == fault), "{fault}: {faults}");
        assert!(disagreements.iter().any(|d| d.label.as_str() == contact), "{disagreements:?}");
    }
}

/// A capture of the card with a million changes in CSV, as our own simulator runs it, each output 30 ns late; `wait` is
/// stuck high in it from the beginning on if that is `broken`.
fn million(broken: bool) -> Vec<u8> {
    let original = lost_card().expect("sound").circuit().expect("logic");
    let labels: Vec<_> = original.contacts().iter().map(|c| c.label.clone()).collect();
    let (reset, clock) = (gluewright::circuit::Label::from(6u16), gluewright::circuit::Label::from(1u16));
    let inputs: Vec<_> =
        original.contacts().iter().filter(|c| c.direction == Direction::Input).map(|c| c.label.clone()).collect();
    let mut levels: Vec<_> = inputs.iter().map(|l| (l.clone(), *l == reset)).collect();
    let (mut simulator, _) = Simulator::new(&original, &levels, |cell, _| cell % 2 == 0).expect("its contacts");
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
    text
}

/// `cargo test --release -p gluewright-examples --test captured -- --ignored --nocapture`
#[test]
#[ignore = "a measurement"]
fn a_million_samples() {
    let board = lost_card().expect("sound");
    let (original, replacement) = (board.circuit().expect("logic"), circuit_of::<SampleCard>().expect("it builds"));
    for broken in [false, true] {
        let text = million(broken);
        let clock = Instant::now();
        let lap = |what: &str| {
            let seconds = clock.elapsed().as_secs_f64();
            println!("{what} after {seconds:.2} s ({:.0} samples/s)", 1e6 / seconds);
        };
        let circuits = [&original, &replacement];
        let skew = Duration::from_nanos(100);
        let observed = capture::read("card.csv", text.as_slice(), &Channels::by_name(), circuits, skew, |_| ());
        let observed = observed.expect("it reads");
        lap(&format!("{} bytes with {} changes read", text.len(), observed.changes()));
        let finding = observed.original(|_| ()).expect("it can be told");
        lap(&format!("original: {finding}"));
        assert_eq!(matches!(finding, Finding::Explained { .. }), !broken);
        let finding = observed.replacement(|_| ()).expect("it can be told");
        lap(&format!("replacement: {finding}"));
        assert_eq!(matches!(finding, Finding::Explained { .. }), !broken);
        if broken {
            let faults = observed.faults(Some(&board), Some(gluewright_parts::ttl()), Duration::from_secs(60));
            lap(&format!("faults searched in {:.2} s:\n{faults}", faults.time.as_secs_f64()));
            assert!(faults.found.iter().any(|f| f.words == "U4 pin 8 is stuck high"), "{faults}");
        }
    }
}
