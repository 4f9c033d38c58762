//! The part that lies in the drawer reaches everything that is written: its maker's limits, fuses and figures, and nobody
//! else's.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs;
use std::process::Command;

use gluewright::fusefile;
use serde_json::Value;

/// The sample card with this drawer: the record, the report as text, the fuse file.
fn with(drawer: &str) -> (Value, String, fusefile::FuseFile) {
    let room = tempfile::tempdir().expect("a folder");
    let file = room.path().join("drawer.csv");
    fs::write(&file, drawer).expect("written");
    let mut command = Command::new(env!("CARGO_BIN_EXE_sample_card"));
    command.args(["--json", "--without-vectors", "--drawer"]).arg(&file).arg("--out").arg(room.path());
    let output = command.output().expect("it starts");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stdout));
    let folder = room.path().join("sample_card");
    let page = fs::read_to_string(folder.join("report.html")).expect("written");
    let jed = fs::read(folder.join("22v10.jed")).expect("written");
    let record = serde_json::from_slice(&output.stdout).expect("JSON");
    (record, page, fusefile::read("22v10.jed", &jed).expect("readable").0)
}

/// Philips ABT22V10A5/A7 p.4: 200 mA, 48 mA, and no signature (from memory).
#[test]
fn a_part_of_one_maker_has_its_own_limits_and_fuses() {
    let (record, page, file) = with("maker,type,grade,count\nPhilips,ABT22V10A7,,2\n");
    assert_eq!(file.fuses.len(), 5828, "no signature that the part doesn't have");
    assert_eq!(record["part"]["full_type"], "ABT22V10A7", "{record}");
    let currents = &record["values"]["currents"];
    assert_eq!(currents["supply_after"]["ma"], 200.0, "{currents}");
    assert!(currents["replacement"].as_str().is_some_and(|r| r.contains("ABT22V10A")), "{currents}");
    assert!(!page.contains("GAL22V10") && page.contains("Philips ABT22V10A7"), "another's name is on the page");
    assert!(page.contains("at most 200 mA"), "the sheet's supply current is the limit on the bench");
    assert!(file.notes.iter().any(|n| n.text.contains("Philips ABT22V10A7")), "{:?}", file.notes);
}

#[test]
fn of_several_kinds_the_slowest_safe_one_is_taken_with_its_own_figures() {
    let both = "maker,type,grade,count\nPhilips,ABT22V10A7,,2\nLattice,GAL22V10D-25LP,,1\nLattice,GAL22V10D-7LP,,1\n";
    let (record, page, file) = with(both);
    let alone = with("maker,type,grade,count\nLattice,GAL22V10D-7LP,,1\n");
    let maker = record["part"]["maker"].as_str().expect("named");
    let grade = record["part"]["grades"][0].as_str().expect("named");
    // whichever it is, every figure is its own
    match maker {
        "Philips" => assert!(file.fuses.len() == 5828 && !page.contains("GAL22V10"), "{grade}"),
        _ => assert!(file.fuses.len() == 5892 && !page.contains("ABT22V10A"), "{grade}"),
    }
    assert_eq!(alone.2.fuses.len(), 5892);
    assert!(
        alone.1.contains("pull-up on every pin") && !alone.1.contains("ATF"),
        "its own pull-ups, no other's keeper"
    );
}

#[test]
fn a_part_without_a_sheet_is_said_to_have_none() {
    let (record, page, _) = with("maker,type,grade,count\na maker,XYZ22V10D-25LP,,1\n");
    let found = record["findings"].as_array().expect("findings");
    assert!(
        found.iter().any(|f| f.as_str().is_some_and(|f| f.contains("no sheet of a maker XYZ22V10D-25LP"))),
        "{record}"
    );
    assert_eq!(record["values"]["currents"]["supply_after"]["missing"][0], "22V10 -25", "{record}");
    assert!(page.contains("its limits are not known"), "the page says it too");
}

/// A split over fast devices draws more than the board was built for: that is said.
#[test]
fn a_split_says_what_it_draws_beside_the_original() {
    let room = tempfile::tempdir().expect("a folder");
    let mut command = Command::new(env!("CARGO_BIN_EXE_loom_bridge"));
    command.args(["--split", "--device", "22V10", "--without-vectors", "--out"]).arg(room.path());
    let output = command.output().expect("it starts");
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("4 devices draw ") && said.contains("check the board's regulator"), "{said}");
    let page = fs::read_to_string(room.path().join("loom_bridge/report.html")).expect("written");
    assert!(page.contains("4 devices draw "), "on paper too");
}
