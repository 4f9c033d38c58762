//! After burning: a file read from the part, beside what was written.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use gluewright::device::{Meaning, TermUse, find};
use gluewright::fit::{Wishes, fit};
use gluewright::fusefile::{FuseFile, read, write};
use gluewright::hazard;
use gluewright::prove::Question;
use gluewright_examples::loom_bridge::{LoomBridge, lost_bridge};
use gluewright_examples::organ_memory::OrganMemory;

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
    // something is burned, so the bench is told the pin of the part as well
    let wiring = fs::read_to_string(room.path().join("sample_card/wiring.csv")).expect("written");
    let named = text.split("; replacement: device pin ").nth(1).and_then(|rest| rest.split(')').next());
    let pin: u16 = named.and_then(|pin| pin.parse().ok()).unwrap_or_else(|| panic!("no pin of the part in {text}"));
    assert!((14..=23).contains(&pin), "an output of a 22V10 in 24 pins (data sheets): {pin} of {wiring}");

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
    let other = gluewright::circuit_of::<OrganMemory>().expect("sound");
    let other = fit(&other, device, &Wishes::none()).expect("it fits");
    let fuses = device.encode(&other.plan).expect("its own plan");
    let another = room.path().join("another.jed");
    fs::write(&another, write(&FuseFile { fuses, design: "read from part".into(), ..FuseFile::default() }))
        .expect("written");
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

fn bridge(arguments: &[&str], out: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_loom_bridge"));
    command.args(["--device", "22V10", "--without-vectors", "--out"]).arg(out).args(arguments);
    command.output().expect("it starts")
}

/// A written fuse file with these fuses at the other state, as a programmer saves it.
fn saved(written: &Path, wrong: &[usize], to: &Path) -> String {
    let (mut file, _) = read("written", &fs::read(written).expect("written")).expect("readable");
    for &fuse in wrong {
        let state = file.fuses.get(fuse) == Some(true);
        assert!(file.fuses.set(fuse, !state));
    }
    let saved = FuseFile { fuses: file.fuses, design: "read from part".into(), ..FuseFile::default() };
    fs::write(to, write(&saved)).expect("written");
    to.to_str().expect("text").to_owned()
}

#[test]
fn a_part_beside_kept_packages_is_read_back() {
    let room = tempfile::tempdir().expect("a folder");
    let keep = ["--keep", "U1,U2"];
    assert!(bridge(&keep, room.path()).status.success());
    let written = room.path().join("loom_bridge/d1_22v10.jed");
    let back = |wrong: &[usize]| {
        let file = saved(&written, wrong, &room.path().join("read.jed"));
        let output = bridge(&[&keep[..], &["--readback", &file]].concat(), room.path());
        (output.status.code(), told(&output))
    };
    let (status, text) = back(&[]);
    assert!(status == Some(0) && text.contains("every fuse reads as it was written"), "{text}");
    // the polarity of the macrocell at pin 14: fuse 5826, from memory
    let (status, text) = back(&[5826]);
    assert!(status == Some(1) && text.contains("1 fuse differs") && text.contains("NOT proved"), "{text}");
    // without the word that packages stay it is another card's file, or none at all
    let file = saved(&written, &[], &room.path().join("read.jed"));
    let output = bridge(&["--readback", &file], room.path());
    assert_eq!(output.status.code(), Some(2), "{}", told(&output));
}

#[test]
fn all_devices_of_a_split_are_read_back_and_proved_together() {
    let room = tempfile::tempdir().expect("a folder");
    assert!(bridge(&["--split"], room.path()).status.success());
    let written = |k: usize| room.path().join(format!("loom_bridge/d{k}_22v10.jed"));
    let file = |k: usize, wrong: &[usize]| saved(&written(k), wrong, &room.path().join(format!("read{k}.jed")));
    let back = |files: &[&str]| {
        let output = bridge(&[&["--split", "--readback"], files].concat(), room.path());
        (output.status.code(), told(&output))
    };
    let good: Vec<String> = (1..=4).map(|k| file(k, &[])).collect();
    let all: Vec<&str> = good.iter().map(String::as_str).collect();
    let (status, text) = back(&all);
    assert!(status == Some(0) && text.contains("D4: ") && text.contains("all devices as one circuit"), "{text}");
    let (status, text) = back(&all[..2]);
    assert!(status == Some(2) && text.contains("the socket holds D1, D2, D3, D4"), "{text}");
    let exchanged = [all[1], all[0], all[2], all[3]];
    let (status, text) = back(&exchanged);
    assert!(status == Some(1) && text.contains("NOT proved"), "{text}");
    let wrong = file(3, &[5808]);
    let (status, text) = back(&[all[0], all[1], &wrong, all[3]]);
    assert!(status == Some(1) && text.contains("D3: ") && text.contains("NOT proved"), "{text}");
    assert!(text.contains("replacement: device pin") && text.contains(" of D"), "{text}");
}

/// A latch made of product terms has a term that only holds it while its gate closes. Without that term the settled levels are
/// the same, and the latch can lose what it keeps: that is no "proved".
#[test]
fn a_fuse_that_takes_the_hazard_cover_is_not_passed_over() {
    let room = tempfile::tempdir().expect("a folder");
    let job = gluewright::job::<LoomBridge>(lost_bridge())
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes");
    let made = job.split_over("22V10").testing(None).make().expect("made");
    made.write(&room.path().join("loom_bridge")).expect("written");
    let found = made.devices.iter().enumerate().find_map(|(at, d)| {
        let (fuses, mode) = (d.fuses.as_ref()?, d.device.modes.first()?);
        let steadying = d.fitted.cells.iter().filter(|c| c.terms.iter().any(|t| !t.steadies.is_empty()));
        let rows =
            steadying.filter_map(|c| mode.macrocell(c.pin?)?.configuration(c.function)).flat_map(|c| c.rows.clone());
        let mut links = rows.flat_map(|row| row * 44..row * 44 + 44);
        let fuse = links.find(|&fuse| {
            let mut wrong = fuses.clone();
            let is_open = wrong.get(fuse) == Some(true) && wrong.set(fuse, false);
            let used = matches!(d.device.meaning(fuses, fuse), Meaning::Link { term: TermUse::Sum(..), .. });
            let hazards = hazard::of_fuses(&d.fitted, &d.device, &wrong);
            let shaken = is_open && used && hazards.is_ok_and(|h| h.logic().next().is_some());
            // and the settled levels stay as they are
            let lifted = |fuses| d.device.lift(fuses).expect("a fuse map of its own");
            shaken && Question::new(lifted(fuses), lifted(&wrong)).settled_only().ask().is_ok()
        })?;
        Some((at, fuse))
    });
    let (at, fuse) = found.expect("some term only steadies");
    let files: Vec<String> = (0..made.devices.len())
        .map(|k| {
            let written = room.path().join(format!("loom_bridge/d{}_22v10.jed", k + 1));
            let wrong: &[usize] = if k == at { &[fuse] } else { &[] };
            saved(&written, wrong, &room.path().join(format!("read{k}.jed")))
        })
        .collect();
    let files: Vec<&str> = files.iter().map(String::as_str).collect();
    let output = bridge(&[&["--split", "--readback"], files.as_slice()].concat(), room.path());
    let text = told(&output);
    assert_eq!(output.status.code(), Some(1), "{text}");
    assert!(text.contains("the cover is lost: ") && text.contains("Don't use these parts."), "{text}");
    // the only wrong fuse is the one that would hold it
    let lost = text.lines().filter(|line| line.contains("the cover is lost: "));
    assert!(lost.clone().all(|line| line.ends_with(&format!("; fuse {fuse} at 1, as written, holds it"))), "{text}");
    assert!(!text.contains("is proved against the card"), "{text}");
}
