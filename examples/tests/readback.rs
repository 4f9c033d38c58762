//! After burning: a file read from the part, beside what was written.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use gluewright::device::{Meaning, TermUse, find};
use gluewright::fusefile::{FuseFile, read, write};

fn run(arguments: &[&str], out: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sample_card"));
    command.arg("--without-vectors").arg("--out").arg(out).args(arguments).output().expect("it starts")
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[test]
fn a_burned_part_is_compared_fuse_by_fuse_and_proved_again() {
    let room = tempfile::tempdir().expect("a folder");
    assert!(run(&[], room.path()).status.success());
    let bytes = fs::read(room.path().join("sample_card/22v10.jed")).expect("written");
    let (good, _) = read("22v10.jed", &bytes).expect("readable");
    // as a programmer saves it: the fuses and little else
    let device = find("22V10").expect("it is there");
    let save = |change: &dyn Fn(&mut FuseFile)| {
        let mut file = FuseFile { fuses: good.fuses.clone(), design: "read from part".into(), ..FuseFile::default() };
        change(&mut file);
        let path = room.path().join("read.jed");
        fs::write(&path, write(&file)).expect("written");
        let output = run(&["--readback", path.to_str().expect("text")], room.path());
        (output.status.code(), told(&output))
    };
    let (status, text) = save(&|_| {});
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("every fuse reads as it was written") && text.contains("Proved"), "{text}");

    // a link of the first used product term
    let is_used = |fuse: &usize| {
        let meaning = device.meaning(&good.fuses, *fuse);
        let row = fuse / 44 * 44;
        let open = (row..row + 44).filter(|&f| good.fuses.get(f) == Some(true)).count();
        let is_link = matches!(meaning, Meaning::Link { term: TermUse::Sum(..), .. });
        is_link && good.fuses.get(*fuse) == Some(false) && open > 30
    };
    let fuse = (0..5808).find(is_used).expect("some term reads something");
    let row = fuse / 44;
    let (status, text) = save(&|file| assert!(file.fuses.set(fuse, true)));
    assert_eq!(status, Some(1), "{text}");
    assert!(text.contains(&format!("fuse {fuse} was written 0 and reads 1: row {row}, product term")), "{text}");
    assert!(text.contains("NOT proved"), "{text}");
    assert!(text.contains(&format!(": fuse {fuse} at 0 instead of 1")), "the fuse that mends it is named: {text}");

    let (status, text) = save(&|file| assert!(file.fuses.set(5830, good.fuses.get(5830) == Some(false))));
    assert_eq!(status, Some(1), "{text}");
    assert!(text.contains("all of them in the user signature") && text.contains("Proved"), "{text}");

    let (status, text) = save(&|file| file.fuses = gluewright::fusefile::Fuses::new(5892, true));
    assert_eq!(status, Some(1), "{text}");
    assert!(text.contains("reads 1: the part is blank, or its security fuse is set"), "{text}");

    let (status, text) = save(&|file| file.security = true);
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("asks for the security fuse"), "{text}");

    // another card's file: said so, and not fuse by fuse
    let other = Command::new(env!("CARGO_BIN_EXE_loom_bridge"))
        .args(["--keep", "U1,U2", "--device", "22V10", "--without-vectors", "--out"])
        .arg(room.path())
        .output()
        .expect("it starts");
    assert!(other.status.success(), "{}", told(&other));
    let another = room.path().join("loom_bridge/d1_22v10.jed");
    let output = run(&["--readback", another.to_str().expect("text")], room.path());
    let text = told(&output);
    assert_eq!(output.status.code(), Some(1), "{text}");
    assert!(text.contains("this is the file of another card") && text.contains("NOT proved"), "{text}");
    assert_eq!(text.matches(" was written ").count(), 10, "{text}");

    let missing = run(&["--readback", "no/such/file.jed"], room.path());
    assert_eq!(missing.status.code(), Some(2));
    assert!(told(&missing).contains("can't read no/such/file.jed"), "{}", told(&missing));
}

#[test]
fn a_device_without_a_fuse_map_can_not_be_read_back() {
    let room = tempfile::tempdir().expect("a folder");
    let output = run(&["--device", "CPLD-32", "--readback", "whatever.jed"], room.path());
    let text = told(&output);
    assert_eq!(output.status.code(), Some(2), "{text}");
    assert!(text.contains("has no fuse map here") && text.contains("programming file"), "{text}");
}

#[test]
fn the_user_signature_is_in_the_file_and_is_read_back() {
    let room = tempfile::tempdir().expect("a folder");
    let output = run(&["--signature", "rev B"], room.path());
    assert!(output.status.success(), "{}", told(&output));
    assert!(told(&output).contains("user signature `rev B"), "{}", told(&output));
    let path = room.path().join("sample_card/22v10.jed");
    let (file, _) = read("22v10.jed", &fs::read(&path).expect("written")).expect("readable");
    let device = find("22V10").expect("it is there");
    let plan = device.decode(&file.fuses).expect("its own fuses");
    assert!(plan.signature.starts_with(b"rev B"), "{:?}", plan.signature);
    let output = run(&["--readback", path.to_str().expect("text")], room.path());
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let long = run(&["--signature", "far too long for eight bytes"], room.path());
    assert_eq!(long.status.code(), Some(2), "{}", told(&long));
}
