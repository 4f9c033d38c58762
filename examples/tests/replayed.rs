//! A refutation read from JSON alone, and replayed by others: by the independent walk over all starts of the original, and in
//! the simulator from the starts that it names, where the difference shows.
#![allow(clippy::expect_used, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::process::Command;

use gluewright::circuit::{Circuit, Label};
use gluewright::machine::Machine;
use gluewright::simulate::{Shown, Simulator};
use gluewright_examples::{first_try, sample_card};
use gluewright_tests::walk::{Sequence, Walk};
use serde_json::Value;

/// The refutation as the program prints it.
fn refutation() -> Value {
    let room = tempfile::tempdir().expect("a folder");
    let program = env!("CARGO_BIN_EXE_first_try");
    let arguments = ["--json", "--mend-effort", "0", "--out"];
    let output = Command::new(program).args(arguments).arg(room.path()).output().expect("it starts");
    let document: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(document["schema"], gluewright::job::SCHEMA);
    assert_eq!(document["values"]["error"]["kind"], "proof");
    assert_eq!(document["values"]["error"]["proof_of"], "source");
    document["values"]["error"]["failure"]["refuted"].clone()
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

fn circuits() -> [Circuit; 2] {
    let original = sample_card::lost_card().expect("sound").circuit().expect("sound");
    [original, gluewright::circuit_of::<first_try::SampleCard>().expect("sound")]
}

#[test]
fn no_start_of_the_original_explains_it_by_the_walk_from_outside() {
    let (refutation, [original, replacement]) = (refutation(), circuits());
    let (sequence, held) = (sequence(&refutation), bits(&refutation["start"]));
    let walk = || Walk::new(&original, &replacement, 1 << 20);
    assert_eq!(walk().replays(&sequence, &held), Some(true));
    // what it names is what it takes: one event less, and the original explains it
    let mut less = sequence.clone();
    assert!(less.events.pop().is_some(), "{refutation}");
    assert_eq!(walk().replays(&less, &held), Some(false));
    // and the original itself is never refuted by it
    assert_eq!(Walk::new(&original, &original, 1 << 20).replays(&sequence, &[]), Some(false));
}

#[test]
fn the_difference_shows_in_the_simulator() {
    let refutation = refutation();
    let sequence = sequence(&refutation);
    let sides = [("original", "original_start"), ("replacement", "start")];
    let differences = refutation["differences"].as_array().expect("a list");
    assert!(!differences.is_empty());
    for (circuit, (side, start)) in circuits().iter().zip(sides) {
        let held = bits(&refutation[start]);
        let machine = Machine::new(circuit);
        let names: Vec<String> = machine.cells().iter().map(|c| c.name.clone()).collect();
        let holds = |cell: usize, _| held.iter().any(|(name, high)| *name == names[cell] && *high);
        let known = |all: &[(Label, bool)]| -> Vec<(Label, bool)> {
            all.iter().filter(|(label, _)| circuit.find_contact(label).is_some()).cloned().collect()
        };
        let (mut simulator, _) = Simulator::of(machine, &known(&sequence.levels), holds).expect("its contacts");
        let (last, before) = sequence.events.split_last().expect("events");
        for event in before {
            simulator.event(&known(event)).expect("its contacts");
        }
        let shown = |simulator: &Simulator| -> Vec<Shown> {
            let at = |d: &Value| simulator.shown(&Label::new(d["contact"].as_str().expect("text")), 0);
            differences.iter().map(|d| at(d).expect("its contact")).collect()
        };
        let first = shown(&simulator);
        simulator.event(&known(last)).expect("its contacts");
        for ((difference, first), end) in differences.iter().zip(first).zip(shown(&simulator)) {
            let told: Vec<Shown> = serde_json::from_value(difference[side].clone()).expect("what is shown");
            assert_eq!((told.first(), told.last()), (Some(&first), Some(&end)), "{side}: {difference}");
        }
    }
    assert!(differences.iter().all(|d| d["original"] != d["replacement"]));
}
