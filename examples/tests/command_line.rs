//! The command line that every job has: what it writes, what it says, and its exit status.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs;
use std::process::{Command, Output};

use gluewright::prelude::*;
use gluewright_examples::sample_card::{SampleCard, lost_card};

fn sample_card(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_sample_card")).args(arguments).output().expect("it starts")
}

fn status(output: &Output) -> Option<i32> {
    output.status.code()
}

#[test]
fn a_proved_card_is_written_whole_and_the_same_each_time() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    let mut written = Vec::new();
    for _ in 0..2 {
        let output = sample_card(&["--out", out]);
        assert_eq!(status(&output), Some(0), "{output:?}");
        let folder = room.path().join("sample_card");
        let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(&folder)
            .expect("written")
            .map(|f| f.expect("readable"))
            .map(|f| (f.file_name().to_string_lossy().into_owned(), fs::read(f.path()).expect("readable")))
            .collect();
        files.sort();
        written.push(files);
    }
    assert_eq!(written[0], written[1]);
    let names: Vec<&str> = written[0].iter().map(|(name, _)| name.as_str()).collect();
    let expected = [
        "22v10.jed",
        "adapter.ipc",
        "adapter_parts.csv",
        "adapter_wires.csv",
        "bring_up.csv",
        "certificate.json",
        "equations.txt",
        "loading.csv",
        "missed.csv",
        "parts.csv",
        "product.aig",
        "proof.json",
        "proof.smt2",
        "report.html",
        "runs.json",
        "sample_card.rs",
        "sample_card.v",
        "sample_card.vhd",
        "timing.csv",
        "trace.csv",
        "vectors.csv",
        "wiring.csv",
        "witness.aig",
    ];
    assert_eq!(names, expected);
    let of = |name: &str| &written[0].iter().find(|(n, _)| n == name).expect("written").1;
    assert!(of("wiring.csv").starts_with(b"contact,signal,device,pin\n1,clock,D1,1\n"));
    assert!(
        of("timing.csv").starts_with(b"kind,from,change,to,its_change,original_ns,replacement_ns,limit_ns,judgement,")
    );
    assert_eq!(fs::read_dir(room.path()).expect("readable").count(), 1, "nothing is left beside it");
}

#[test]
fn json_is_json() {
    let room = tempfile::tempdir().expect("a folder");
    let output = sample_card(&["--json", "--without-vectors", "--out", room.path().to_str().expect("text")]);
    assert_eq!(status(&output), Some(0));
    let record: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(record["proofs"][1]["verdict"], "proved");
    let written = fs::read(room.path().join("sample_card/proof.json")).expect("written");
    // the folder holds the record; the screen has every value beside it
    let mut bare = record.clone();
    let fields = bare.as_object_mut().expect("an object");
    assert_eq!(fields.remove("schema"), Some(gluewright::job::SCHEMA.into()));
    assert!(fields.remove("values").is_some_and(|v| v["devices"][0]["fuses"]["count"] == 5892));
    let written: serde_json::Value = serde_json::from_slice(&written).expect("JSON");
    assert_eq!(bare, written, "the screen and the folder say the same");
    assert!(record["findings"].as_array().is_some_and(|f| !f.is_empty()), "the trace leaves outputs out");
}

#[test]
fn wrong_use_is_status_two_and_writes_nothing() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    for arguments in [&["--device", "22V11", "--out", out][..], &["--outt", out], &["--device", "16V8", "--out", out]] {
        let output = sample_card(arguments);
        assert_eq!(status(&output), Some(2), "{arguments:?}: {output:?}");
        assert!(!output.stderr.is_empty() && output.stdout.is_empty());
    }
    fs::create_dir(room.path().join("sample_card")).expect("a folder");
    let output = sample_card(&["--device", "16V8", "--out", out]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("an EARLIER result, not this source"), "{said}");
    fs::remove_dir(room.path().join("sample_card")).expect("still there, still empty");
    assert_eq!(fs::read_dir(room.path()).expect("readable").count(), 0);
    let help = sample_card(&["--help"]);
    assert_eq!(status(&help), Some(0));
    let help = String::from_utf8_lossy(&help.stdout).into_owned();
    assert!(["--device", "--out", "--json", "current-limited"].iter().all(|word| help.contains(word)), "{help}");
}

#[test]
fn a_refuted_card_is_status_one_and_writes_nothing() {
    let room = tempfile::tempdir().expect("a folder");
    // the card with two gauge bits exchanged in its trace
    let trace = include_str!("../src/sample_card.csv");
    let crossed = trace.replace("U1,74LS173,14,g0", "U1,74LS173,14,g1").replace("U1,74LS173,13,g1", "U1,74LS173,13,g0");
    assert_ne!(crossed, trace);
    let card = gluewright::board::Board::from_csv("crossed.csv", crossed, gluewright_parts::ttl());
    let error = gluewright::job::<SampleCard>(card).make().expect_err("the bits are crossed");
    assert_eq!(error.status(), 1, "{error}");
    assert!(error.to_string().contains("gauge[0]"), "{error}");
    assert_eq!(fs::read_dir(room.path()).expect("readable").count(), 0);
    prove::<SampleCard>().against(&lost_card().expect("sound")).run().expect("uncrossed it is proved");
}

#[test]
fn a_drawer_without_another_word_says_what_there_is_to_burn() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().join("out");
    let out = out.to_str().expect("text");
    let drawer = |text: &str| {
        let file = room.path().join("drawer.csv");
        fs::write(&file, text).expect("written");
        file.to_str().expect("text").to_owned()
    };
    let run = |text: &str| {
        let file = drawer(text);
        let output = sample_card(&["--drawer", &file, "--without-vectors", "--out", out]);
        (status(&output), String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned())
    };
    let (code, said) = run("22V10\n16V8\n");
    assert!(code == Some(2) && said.contains("the header has no column `type`"), "{said}");
    let (code, said) = run("type,count\n16V8,4\n22V10,0\n");
    assert!(code == Some(2) && said.contains("there is no 22V10 in") && said.contains("which has 16V8"), "{said}");
    let (code, said) = run("type,grade\n22V10,-25\nZ80,\n");
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("Left out:") && said.contains("`Z80`"), "{said}");
    assert!(said.contains("nearest is -25"), "{said}");
}

/// A PLCC-28 has its clock on pin 2 and its ground on pin 14 (device sheets name no signal on pins 1, 8, 15 and 22).
#[test]
fn vectors_stand_in_the_order_of_the_package() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    let vectors = |package: &str| {
        let output = sample_card(&["--package", package, "--out", out]);
        assert_eq!(status(&output), Some(0), "{output:?}");
        let file = fs::read_to_string(room.path().join("sample_card/22v10.jed")).expect("written");
        let first =
            file.lines().find_map(|l| l.strip_prefix("V0001 ")).expect("a vector").trim_end_matches('*').to_owned();
        (file.contains(&format!("in the pin order of {package}")), first)
    };
    let (said, dip) = vectors("DIP-24");
    assert!(said && dip.len() == 24, "{dip}");
    let (said, plcc) = vectors("PLCC-28");
    assert!(said && plcc.len() == 28, "{plcc}");
    let joined: Vec<u8> =
        plcc.bytes().enumerate().filter(|(i, _)| ![0, 7, 14, 21].contains(i)).map(|(_, c)| c).collect();
    assert_eq!(String::from_utf8_lossy(&joined), dip);
    let output = sample_card(&["--package", "DIP-40", "--out", out]);
    assert_eq!(status(&output), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("write one of DIP-24, PLCC-28"), "{output:?}");
}
