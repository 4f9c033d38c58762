//! A refutation read from JSON alone, and replayed by others: by the independent walk over all starts of the original, and in
//! the simulator from the starts that it names, where the difference shows.
#![allow(clippy::expect_used, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::process::Command;

use gluewright::board::Board;
use gluewright::circuit::{Circuit, Label};
use gluewright::simulate::{Shown, Simulator};
use gluewright_examples::{first_try, sample_card};
use gluewright_tests::walk::{Sequence, Walk};
use serde_json::Value;

/// A refutation as JSON, and the circuits that it is about.
struct Refuted {
    json: Value,
    circuits: [Circuit; 2],
}

/// The first try as its program prints it: it differs at power-up.
fn printed() -> Refuted {
    let room = tempfile::tempdir().expect("a folder");
    let program = env!("CARGO_BIN_EXE_first_try");
    let arguments = ["--json", "--mend-effort", "0", "--out"];
    let output = Command::new(program).args(arguments).arg(room.path()).output().expect("it starts");
    let document: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(document["schema"], gluewright::job::SCHEMA);
    assert_eq!(document["values"]["error"]["kind"], "proof");
    assert_eq!(document["values"]["error"]["proof_of"], "source");
    let original = sample_card::lost_card().expect("sound").circuit().expect("sound");
    let replacement = gluewright::circuit_of::<first_try::SampleCard>().expect("sound");
    Refuted { json: document["values"]["error"]["failure"]["refuted"].clone(), circuits: [original, replacement] }
}

/// The card with two bits of the gauge exchanged in its trace: it takes a whole sample to show.
fn crossed() -> Refuted {
    let trace = include_str!("../src/sample_card.csv");
    let crossed = trace.replace("U1,74LS173,14,g0", "U1,74LS173,14,g1").replace("U1,74LS173,13,g1", "U1,74LS173,13,g0");
    let card = Board::from_csv("crossed.csv", crossed, gluewright_parts::ttl()).expect("sound");
    let original = card.circuit().expect("sound");
    let error = gluewright::job::<sample_card::SampleCard>(Ok(card)).make().expect_err("the bits are crossed");
    let text = serde_json::to_string(&error).expect("JSON");
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let replacement = gluewright::circuit_of::<sample_card::SampleCard>().expect("sound");
    Refuted { json: value["failure"]["refuted"].clone(), circuits: [original, replacement] }
}

fn levels(list: &Value) -> Vec<(Label, bool)> {
    let one = |v: &Value| (Label::new(v["contact"].as_str().expect("text")), v["high"].as_bool().expect("a level"));
    list.as_array().expect("a list").iter().map(one).collect()
}

fn bits(list: &Value) -> Vec<(String, bool)> {
    let one = |v: &Value| (v["element"].as_str().expect("text").to_owned(), v["high"].as_bool().expect("a level"));
    list.as_array().expect("a list").iter().map(one).collect()
}

fn sequence(refutation: &Value) -> Sequence {
    let events = refutation["events"].as_array().expect("a list").iter().map(levels).collect();
    Sequence { levels: levels(&refutation["levels"]), events }
}

#[test]
fn no_start_of_the_original_explains_it_by_the_walk_from_outside() {
    for Refuted { json, circuits: [original, replacement] } in [printed(), crossed()] {
        let (sequence, held) = (sequence(&json), bits(&json["start"]));
        let walk = || Walk::new(&original, &replacement, 1 << 20);
        assert_eq!(walk().replays(&sequence, &held), Some(true), "{json}");
        // what it names is what it takes: one event less, and the original explains it
        let mut less = sequence.clone();
        if less.events.pop().is_some() {
            assert_eq!(walk().replays(&less, &held), Some(false), "{json}");
        }
        // and the original itself is never refuted by it
        assert_eq!(Walk::new(&original, &original, 1 << 20).replays(&sequence, &[]), Some(false), "{json}");
    }
}

#[test]
fn the_difference_shows_in_the_simulator() {
    assert!(!sequence(&crossed().json).events.is_empty());
    for Refuted { json, circuits } in [printed(), crossed()] {
        let sequence = sequence(&json);
        let differences = json["differences"].as_array().expect("a list");
        assert!(!differences.is_empty() && differences.iter().all(|d| d["original"] != d["replacement"]));
        for (circuit, (side, start)) in circuits.iter().zip([("original", "original_start"), ("replacement", "start")])
        {
            let held = bits(&json[start]);
            let (empty, _) = Simulator::new(circuit, &[], |_, _| false).expect("no contact is named");
            let names: Vec<String> = empty.machine().cells().iter().map(|c| c.name.clone()).collect();
            let holds = |cell: usize, _| held.iter().any(|(name, high)| *name == names[cell] && *high);
            let known = |all: &[(Label, bool)]| -> Vec<(Label, bool)> {
                all.iter().filter(|(label, _)| circuit.find_contact(label).is_some()).cloned().collect()
            };
            let (mut simulator, _) = Simulator::new(circuit, &known(&sequence.levels), holds).expect("its contacts");
            let shown = |simulator: &Simulator| -> Vec<Shown> {
                let at = |d: &Value| simulator.shown(&Label::new(d["contact"].as_str().expect("text")), 0);
                differences.iter().map(|d| at(d).expect("its contact")).collect()
            };
            let mut before = None;
            for event in &sequence.events {
                before = Some(shown(&simulator));
                simulator.event(&known(event)).expect("its contacts");
            }
            let after = shown(&simulator);
            let before = before.unwrap_or_else(|| after.clone());
            for ((difference, first), end) in differences.iter().zip(before).zip(after) {
                let told: Vec<Shown> = serde_json::from_value(difference[side].clone()).expect("what is shown");
                assert_eq!((told.first(), told.last()), (Some(&first), Some(&end)), "{side}: {difference}");
            }
        }
    }
}
