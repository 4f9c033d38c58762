//! Captures of the sample card from an outside simulator (Icarus Verilog, Debian package `iverilog`), whole and with one
//! thing broken. The description in Verilog is written by hand beside this file.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs::File;
use std::io::{BufReader, Write};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use gluewright::capture::{self, Channels, Finding, Observed};
use gluewright::circuit_of;
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
        let faults = observed.faults(Some(&board), Duration::from_secs(30));
        println!("{faults}");
        assert!(faults.found.iter().any(|f| f.words == fault), "{fault}: {faults}");
        // it has inputs and outputs where the 74LS109 has, but nobody takes one for the other
        assert!(faults.found.iter().all(|f| !f.words.contains("74LS670")), "{faults}");
        assert!(disagreements.iter().any(|d| d.label.as_str() == contact), "{disagreements:?}");
    }
}
