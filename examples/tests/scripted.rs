//! What a script reads with `--json`: one document on standard output whatever happens, nothing on standard error, and the
//! exit status.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use gluewright::fusefile::{read, write};
use serde_json::{Value, json};

const CARD: &str = env!("CARGO_BIN_EXE_sample_card");
const FIRST_TRY: &str = env!("CARGO_BIN_EXE_first_try");
const BRIDGE: &str = env!("CARGO_BIN_EXE_loom_bridge");

/// The exit status and the document.
fn asked(program: &str, out: &Path, arguments: &[&str]) -> (i32, Value) {
    let output = Command::new(program).args(arguments).arg("--json").arg("--out").arg(out).output().expect("it starts");
    assert!(output.stderr.is_empty(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    let document = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|e| panic!("{arguments:?}: {e}: {}", String::from_utf8_lossy(&output.stdout)));
    (output.status.code().expect("it ends by itself"), document)
}

#[test]
fn every_failure_is_one_document() {
    let room = tempfile::tempdir().expect("a folder");
    let file = |name: &str, text: &str| {
        let path = room.path().join(name);
        fs::write(&path, text).expect("written");
        path.to_str().expect("text").to_owned()
    };
    let strange = file("strange.csv", "type,count\nZ80,1\n");
    let capture = file("capture.csv", "time (ns),nothing\n0,1\n");
    let taken = file("taken", "a file, no folder");
    let out = room.path().join("out");
    for (arguments, says) in [
        (&["--device", "22V11"][..], "there is no device `22V11` here"),
        (&["--device", "16V8"], "does not fit a 16V8"),
        (&["--outt", "x"], "--outt"),
        (&["--keep", "U1", "--split"], "cannot be used with"),
        (&["--capture", &capture, "--split"], "cannot be used with"),
        (&["--keep", "U9"], "there is no package `U9` on the card"),
        (&["--drawer", &strange], "`Z80` is no type that has a description here"),
        (&["--survey", "--drawer", "no/such.csv"], "can't read the drawer no/such.csv"),
        (&["--capture", &capture], "no channel is named like a contact"),
        (&["--readback", "no/such.jed"], "run as it was made"),
        (&["--package", "DIP-40"], "write one of DIP-24"),
    ] {
        let (status, document) = asked(CARD, &out, arguments);
        assert_eq!((status, &document["verdict"]), (2, &json!("not asked")), "{arguments:?}: {document}");
        assert!(document["text"].as_str().is_some_and(|t| t.contains(says)), "{arguments:?}: {document}");
        assert_eq!(document["circuit"], "sample_card");
        assert!(document["text"].as_str().is_some_and(|t| !t.contains('\u{1b}')), "no colours: {document}");
    }
    assert!(!out.exists(), "nothing was written");
    let (status, document) = asked(CARD, Path::new(&taken), &["--without-vectors"]);
    assert!(status == 2 && document["text"].as_str().is_some_and(|t| t.contains("can't write")), "{document}");
}

#[test]
fn a_success_is_one_document_with_what_there_is_to_say_beside_it() {
    let room = tempfile::tempdir().expect("a folder");
    let drawer = room.path().join("drawer.csv");
    fs::write(&drawer, "type,grade\n22V10,-25\nZ80,\n").expect("written");
    let drawer = drawer.to_str().expect("text");
    let left_out = |document: &Value| {
        document["remarks"][0].as_str().is_some_and(|r| r.starts_with("Left out: ") && r.contains("`Z80`"))
    };
    let (status, mut document) = asked(CARD, room.path(), &["--without-vectors", "--drawer", drawer]);
    assert!(status == 0 && left_out(&document), "{document}");
    for beside in ["schema", "values"] {
        assert!(document.as_object_mut().expect("an object").remove(beside).is_some(), "{beside}");
    }
    assert_eq!(document["proofs"][1]["verdict"], "proved");
    // what lies in the folder is the record of the proof, without what was said of the drawer
    let written = fs::read(room.path().join("sample_card/proof.json")).expect("written");
    let mut written: Value = serde_json::from_slice(&written).expect("JSON");
    written["remarks"] = document["remarks"].clone();
    assert_eq!(written, document);
    let (status, document) = asked(CARD, room.path(), &["--survey", "--drawer", drawer]);
    assert!(status == 0 && left_out(&document) && document["rows"].is_array(), "{document}");
    // an earlier result is named where a later run fails
    let (status, document) = asked(CARD, room.path(), &["--device", "16V8"]);
    let folder = room.path().join("sample_card");
    assert_eq!((status, document["earlier"].as_str()), (2, folder.to_str()), "{document}");
    let (status, document) = asked(BRIDGE, room.path(), &["--explain", "why.html", "--without-vectors"]);
    assert!(status == 0 && document["remarks"].is_null(), "{document}");
}

#[test]
fn a_refuted_source_is_one_document_too() {
    let room = tempfile::tempdir().expect("a folder");
    let page = room.path().join("why.html");
    let (status, document) = asked(FIRST_TRY, room.path(), &["--explain", page.to_str().expect("text")]);
    assert_eq!((status, &document["verdict"]), (1, &json!("refuted")), "{document}");
    assert_eq!(document["circuit"], "sample_card");
    // the drivers of the data, on contacts 13 to 16, are on at the wrong times
    let explanation = document["explanation"].as_str().expect("laid out");
    assert!((13..=16).any(|c| explanation.contains(&format!("contact {c} data["))), "{explanation}");
    let found = document["mends"]["found"].as_array().expect("looked for");
    assert!(found.iter().any(|m| m.as_str().is_some_and(|m| m.contains("read"))), "{document}");
    assert!(document["remarks"][0].as_str().is_some_and(|r| r.contains("The refutation stands in")), "{document}");
    assert!(page.exists() && !room.path().join("sample_card").exists(), "nothing but the page is written");
}

/// A drawer that the program gives counts like one on the command line, and one on the command line instead of it.
#[test]
fn a_drawer_given_in_code_counts() {
    let room = tempfile::tempdir().expect("a folder");
    let devices = |document: &Value| -> Vec<(String, Value)> {
        let rows = document["rows"].as_array().expect("rows");
        rows.iter().map(|r| (r["device"].as_str().expect("named").to_owned(), r["count"].clone())).collect()
    };
    let (status, document) = asked(FIRST_TRY, room.path(), &["--survey"]);
    assert_eq!((status, &document["drawer"]), (0, &json!("drawer of the workshop")), "{document}");
    assert_eq!(devices(&document), [("22V10".to_owned(), json!(1)), ("16V8".to_owned(), json!(3))]);
    for (arguments, says) in [
        (&["--split", "--device", "20V8"][..], "there is no 20V8 in drawer of the workshop, which has 22V10, 16V8"),
        (&["--device", "20V8"], "there is no 20V8 in drawer of the workshop, which has 22V10, 16V8"),
        (&["--split", "--device", "16V8"], "has no reset term"),
    ] {
        let (status, document) = asked(FIRST_TRY, room.path(), arguments);
        assert_eq!((status, &document["verdict"]), (2, &json!("not asked")), "{arguments:?}: {document}");
        assert!(document["text"].as_str().is_some_and(|t| t.contains(says)), "{arguments:?}: {document}");
    }
    let other = room.path().join("drawer.csv");
    fs::write(&other, "type,count\n16R8,4\n").expect("written");
    let other = ["--drawer", other.to_str().expect("text")];
    let (status, document) = asked(FIRST_TRY, room.path(), &[&["--survey"][..], &other].concat());
    assert_eq!((status, devices(&document)), (0, vec![("16R8".to_owned(), json!(4))]), "{document}");
    // a 16R8 is not burned today, so nothing is left to split over
    let (status, document) = asked(FIRST_TRY, room.path(), &[&["--split"][..], &other].concat());
    assert!(
        status == 2 && document["text"].as_str().is_some_and(|t| t.contains("no device with a fuse map")),
        "{document}"
    );
}

/// The device's pin for a contact, by the wiring list.
fn pin_of(contact: &str, out: &Path) -> usize {
    let wiring = fs::read_to_string(out.join("sample_card/wiring.csv")).expect("written");
    let row = wiring.lines().map(|l| l.split(',').collect::<Vec<_>>()).find(|r| r[0] == contact).expect("wired");
    row[3].parse().expect("a pin")
}

#[test]
fn a_readback_is_one_document_too() {
    let room = tempfile::tempdir().expect("a folder");
    assert_eq!(asked(CARD, room.path(), &["--without-vectors"]).0, 0);
    let good = room.path().join("sample_card/22v10.jed");
    let (status, document) = asked(CARD, room.path(), &["--readback", good.to_str().expect("text")]);
    assert_eq!((status, &document["verdict"], &document["as_written"]), (0, &json!("proved"), &json!(true)));
    let (mut file, _) = read("22v10.jed", &fs::read(&good).expect("written")).expect("readable");
    // the polarity of the macrocell of contact 17, which is combinational (22V10: from fuse 5808 on, pin 23 first)
    let polarity = 5808 + 2 * (23 - pin_of("17", room.path()));
    let was = file.fuses.get(polarity).expect("a fuse");
    assert!(file.fuses.set(polarity, !was));
    let (bad, page) = (room.path().join("bad.jed"), room.path().join("why.html"));
    fs::write(&bad, write(&file)).expect("written");
    let arguments = ["--readback", bad.to_str().expect("text"), "--explain", page.to_str().expect("text")];
    let (status, document) = asked(CARD, room.path(), &arguments);
    assert_eq!((status, &document["verdict"]), (1, &json!("refuted")), "{document}");
    assert_eq!(document["differences"].as_array().map(Vec::len), Some(1), "{document}");
    assert!(document["mends"]["found"].as_array().is_some_and(|m| !m.is_empty()), "{document}");
    assert!(document["remarks"][0].as_str().is_some_and(|r| r.contains("The refutation stands in")), "{document}");
    assert!(page.exists());
}

#[test]
fn a_capture_is_one_document_too() {
    let room = tempfile::tempdir().expect("a folder");
    let capture = |rows: &str| {
        let path = room.path().join("seen.csv");
        fs::write(&path, format!("time (ns),clock,reset,select,read,strobe,g0,g1,g2,g3,irq,missed\n{rows}"))
            .expect("written");
        asked(CARD, room.path(), &["--capture", path.to_str().expect("text")])
    };
    // while the card is reset it neither interrupts nor is anything missed; nor does a clock change that
    let quiet = "0,0,0,1,1,0,0,0,0,0,1,1\n1000,1,0,1,1,0,0,0,0,0,1,1\n2000,0,0,1,1,0,0,0,0,0,1,1\n";
    let (status, document) = capture(quiet);
    assert_eq!((status, &document["verdict"]), (0, &json!("explained")), "{document}");
    assert!(document["faults"].is_null() && document["changes"].is_number(), "{document}");
    let (status, document) = capture(&quiet.replace("2000,0,0,1,1,0,0,0,0,0,1,1", "2000,0,0,1,1,0,0,0,0,0,1,0"));
    assert_eq!((status, &document["verdict"]), (1, &json!("not explained")), "{document}");
    assert!(document["faults"]["tried"].as_u64().is_some_and(|n| n > 0), "{document}");
}

/// Whoever reads only the first lines has read enough; a result that can't be printed is no success.
#[test]
#[cfg(target_os = "linux")]
fn a_closed_pipe_and_a_full_disk_behind_standard_output() {
    let room = tempfile::tempdir().expect("a folder");
    for arguments in [&["--survey"][..], &["--without-vectors"], &["--json", "--without-vectors"]] {
        let command = |out: Stdio| {
            let mut command = Command::new(CARD);
            command.args(arguments).arg("--out").arg(room.path()).stdout(out).stderr(Stdio::piped());
            command.output().expect("it starts")
        };
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let output = command(writer.into());
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(0) && said.is_empty(), "{arguments:?}: {said}");
        let full = fs::OpenOptions::new().write(true).open("/dev/full").expect("Linux has it");
        let output = command(full.into());
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(2) && said.contains("can't print the result"), "{arguments:?}: {said}");
    }
}
