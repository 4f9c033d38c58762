//! The program for saved fuse files, as a user starts it: equations, a card, another file.
#![allow(clippy::unwrap_used, reason = "the card and the fuse map are those of this file")]
use std::path::Path;
use std::process::{Command, Output};

use gluewright::device::{Cell, Enable, Function, Literal, Plan, Source, Term, find};
use gluewright::fusefile::{FuseFile, write};

/// A gate of two inputs whose output is on the pin of a 16V8 that stands straight in its socket.
const CARD: &str = "ref,part,pin,net\n\
    J1,contacts,2,a\nJ1,contacts,3,b\nJ1,contacts,19,y\nJ1,contacts,10,GND\nJ1,contacts,20,VCC\n\
    U1,74LS08,1,a\nU1,74LS08,2,b\nU1,74LS08,3,y\nU1,74LS08,7,GND\nU1,74LS08,14,VCC\n";

fn file(terms: &[&[u16]]) -> Vec<u8> {
    let device = find("16V8").unwrap();
    let term = |pins: &&[u16]| Term(pins.iter().map(|&p| Literal::high(Source::Pin(p))).collect());
    let terms = terms.iter().map(term).collect();
    let cell = Cell {
        function: Function::Combinational,
        inverted: false,
        enable: Enable::Always,
        terms,
        exclusive: Vec::new(),
    };
    let plan = Plan { cells: [(19, cell)].into(), ..Plan::default() };
    write(&FuseFile { fuses: device.encode(&plan).unwrap(), ..FuseFile::default() })
}

fn run(room: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gluewright"));
    let Output { status, stdout, stderr } = command.current_dir(room).arg("fuses").args(arguments).output().unwrap();
    (status.code(), String::from_utf8_lossy(&stdout).into_owned() + &String::from_utf8_lossy(&stderr))
}

#[test]
fn a_saved_file_is_proved_against_a_card_and_against_another_file() {
    let room = tempfile::tempdir().unwrap();
    let save = |name: &str, bytes: &[u8]| std::fs::write(room.path().join(name), bytes).unwrap();
    save("card.csv", CARD.as_bytes());
    save("and.jed", &file(&[&[2, 3]]));
    save("twice.jed", &file(&[&[2, 3], &[2, 3]]));
    save("or.jed", &file(&[&[2], &[3]]));

    let (status, text) = run(room.path(), &["and.jed", "--card", "card.csv"]);
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("pin 2 ∧ pin 3") && text.contains("Proved"), "{text}");
    let (status, text) = run(room.path(), &["or.jed", "--card", "card.csv"]);
    assert_eq!(status, Some(1), "{text}");
    assert!(text.contains("19"), "{text}");

    let (status, text) = run(room.path(), &["twice.jed", "--same-as", "and.jed"]);
    assert_eq!(status, Some(0), "{text}");
    let (status, text) = run(room.path(), &["or.jed", "--same-as", "and.jed"]);
    assert_eq!(status, Some(1), "{text}");

    let (status, text) = run(room.path(), &["and.jed", "--card", "card.csv", "--same-as", "or.jed"]);
    assert_eq!(status, Some(2), "{text}");
    let (status, text) = run(room.path(), &["and.jed", "--card", "none.csv"]);
    assert_eq!(status, Some(2), "{text}");
    assert!(text.contains("can't read none.csv"), "{text}");
}

/// Whoever reads only the first lines has read enough.
#[test]
fn a_closed_pipe_behind_standard_output_ends_quietly() {
    let room = tempfile::tempdir().unwrap();
    std::fs::write(room.path().join("and.jed"), file(&[&[2, 3]])).unwrap();
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let mut command = Command::new(env!("CARGO_BIN_EXE_gluewright"));
    let Output { status, stderr, .. } =
        command.current_dir(room.path()).args(["fuses", "and.jed"]).stdout(writer).output().unwrap();
    let said = String::from_utf8_lossy(&stderr);
    assert!(status.code() == Some(0) && !said.contains("panicked"), "{status}: {said}");
}
