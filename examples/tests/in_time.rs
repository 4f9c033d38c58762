//! A card whose second register is clocked six inverters after the first, so that both take the new bit: what is written
//! beside the proof goes the way that the proof goes.
#![allow(clippy::expect_used)] // a check stops at what it did not expect
use std::fmt::Write;
use std::time::Duration;

use gluewright::board::{Board, TraceError};
use gluewright::capture::{self, Channels, Finding};
use gluewright::job::{Job, Made};
use gluewright::prelude::*;
use gluewright::report::probing::Expect;
use gluewright_checker::folder::check;

/// Both relays of an exchange's line are set at once.
#[derive(Circuit)]
#[circuit(vcc = 8, gnd = 4)]
#[contacts(clk: 1, line: 2, clear: 3, relays: 5..=6)]
struct Relays {
    clk: Input<Clock>,
    line: Input<Data>,
    clear: Input<ActiveLow>,
    relays: [Output<Data>; 2],
}

impl Wiring for Relays {
    fn wire(&self) -> RelaysWiring {
        let (edge, clear) = (self.clk.rises(), self.clear.asserted());
        RelaysWiring { relays: each(|_| on(edge).load(self.line.level()).clear_while(clear)) }
    }
}

fn card() -> Result<Board, TraceError> {
    let mut trace = "ref,part,pin,net\n".to_owned();
    let mut row = |of: &str, pins: &[(&str, &str)]| {
        for (pin, net) in pins {
            writeln!(trace, "{of},{pin},{net}").expect("a string");
        }
    };
    row(
        "J1,contacts",
        &[("1", "clk"), ("2", "line"), ("3", "clr_n"), ("4", "GND"), ("5", "first"), ("6", "second"), ("8", "VCC")],
    );
    row("U1,74LS74", &[("1", "clr_n"), ("2", "line"), ("3", "clk"), ("4", "VCC"), ("5", "first"), ("6", "open")]);
    row("U1,74LS74", &[("7", "GND"), ("8", "open"), ("9", "second"), ("10", "VCC"), ("11", "k6"), ("12", "first")]);
    row("U1,74LS74", &[("13", "clr_n"), ("14", "VCC")]);
    row("U2,74LS04", &[("1", "clk"), ("2", "k1"), ("3", "k1"), ("4", "k2"), ("5", "k2"), ("6", "k3"), ("7", "GND")]);
    row(
        "U2,74LS04",
        &[("8", "k4"), ("9", "k3"), ("10", "k5"), ("11", "k4"), ("12", "k6"), ("13", "k5"), ("14", "VCC")],
    );
    Board::from_csv("relays.csv", trace, gluewright_parts::ttl())
}

fn made() -> Made {
    let job: Job<Relays> = gluewright::job::<Relays>(card());
    job.fitting("22V10").testing(None).make().expect("proved by typical delays")
}

/// What every start of the original shows is what the burned device shows, wherever both are known.
#[test]
fn the_probing_sheet_shows_what_was_proved() {
    let made = made();
    assert_eq!(made.source.as_ref().map(|p| p.typical.len()), Some(1));
    let mut both = 0;
    for moment in &made.probing.moments {
        for (reading, row) in moment.readings.iter().zip(&made.probing.rows) {
            let known = |e: Expect| matches!(e, Expect::Low | Expect::High);
            if known(reading.original) && known(reading.device) {
                assert_eq!(reading.original, reading.device, "{} at {}", row.name, moment.title);
                both += 1;
            }
        }
    }
    assert!(both > 5, "{both} readings are known on both sides");
    let second = made.probing.rows.iter().position(|r| r.name == "relays[1]").expect("a row");
    let mut shown = made.probing.moments.iter().filter_map(|m| m.readings.get(second));
    assert!(shown.any(|r| r.original == Expect::High), "the sheet brings the second register high");
}

/// The checker knows the phases alone: it says so, instead of that the claim does not stand.
#[test]
fn the_checker_says_what_it_can_not_judge() {
    let room = tempfile::tempdir().expect("a folder");
    let folder = room.path().join("relays");
    made().write(&folder).expect("written");
    let verdict = check(&folder);
    assert!(!verdict.stands(), "both registers in one phase");
    assert_eq!(verdict.orders, ["data of U1.state[1] of the original when 1 clk changes: new"], "{verdict}");
    assert!(verdict.to_string().ends_with("that this checker does not follow.\n"), "{verdict}");
    // a file that is not the certificate's is no matter of order
    let trace = std::fs::read_dir(&folder).expect("written").map(|f| f.expect("readable").path());
    let is_trace =
        |p: &std::path::PathBuf| std::fs::read_to_string(p).is_ok_and(|text| text.contains("U2,74LS04,1,clk"));
    let trace = trace.filter(|p| p.extension().is_some_and(|e| e == "csv")).find(is_trace).expect("the trace");
    let text = std::fs::read_to_string(&trace).expect("readable");
    std::fs::write(&trace, text.replace("U2,74LS04,1,clk", "U2,74LS04,1,line")).expect("written");
    let verdict = check(&folder);
    assert!(verdict.orders.is_empty() && verdict.to_string().ends_with("The claim does not stand.\n"), "{verdict}");
}

/// A recording of the card as it is, and one in which the second register takes the old bit.
#[test]
fn a_capture_is_held_against_what_was_proved() {
    let card = card().expect("sound");
    let (replacement, question) = gluewright::prove::prove::<Relays>().question(&card).expect("a question");
    let original = card.circuit().expect("a circuit");
    let explained = |second: [u8; 3]| {
        let mut text = "time (ns),clk,line,clr_n,first,second\n".to_owned();
        // cleared, released, clocked with the line high, clocked with it low
        let rows = [
            (0, "0,0,0,0"),
            (1, "0,0,1,0"),
            (2, "0,1,1,0"),
            (3, "1,1,1,1"),
            (4, "0,1,1,1"),
            (5, "0,0,1,1"),
            (6, "1,0,1,0"),
        ];
        for (at, levels) in rows {
            let shown = match at {
                0..=2 => second[0],
                3..=5 => second[1],
                _ => second[2],
            };
            writeln!(text, "{},{levels},{shown}", at * 1000).expect("a string");
        }
        let skew = Duration::from_nanos(50);
        let read =
            capture::read("relays.csv", text.as_bytes(), &Channels::by_name(), [&original, &replacement], skew, |_| ());
        let observed = read.expect("a capture").in_time(question.original_in_time());
        let explained = matches!(observed.original(|_| ()), Ok(Finding::Explained { .. }));
        if !explained {
            // faults go by the phases alone, and that is said
            let faults = observed.faults(None, Duration::from_secs(20));
            assert!(faults.without_delays && faults.to_string().contains("in the order of the phases"), "{faults}");
        }
        explained
    };
    assert!(explained([0, 1, 0]), "as it was proved");
    assert!(!explained([0, 0, 1]), "one bit late");
}
