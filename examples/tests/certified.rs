//! The certificate of every example's job, checked by the checker that shares no code with the prover; and what it says
//! when something was tampered with.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use gluewright_checker::folder::check;
use gluewright_checker::verdict::Verdict;
use serde_json::Value;
use sha2::{Digest, Sha256};

const SAMPLE_CARD: &str = env!("CARGO_BIN_EXE_sample_card");
const LOOM_BRIDGE: &str = env!("CARGO_BIN_EXE_loom_bridge");

/// Runs a job and gives its folder.
fn job(program: &str, name: &str, arguments: &[&str], room: &Path) -> PathBuf {
    let out = room.to_str().expect("text");
    let output =
        Command::new(program).args(arguments).args(["--without-vectors", "--out", out]).output().expect("it starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(told.contains("gluewright-checker"), "the last screen offers the check: {told}");
    let keeps = arguments.contains(&"--keep");
    assert_eq!(told.contains("the source was not looked at"), keeps, "{told}");
    assert_eq!(told.contains("source and written file"), !keeps, "{told}");
    room.join(name)
}

fn stands(folder: &Path) -> Verdict {
    let began = Instant::now();
    let verdict = check(folder);
    println!("{}: {:.1} ms\n{verdict}", folder.display(), began.elapsed().as_secs_f64() * 1e3);
    assert!(verdict.stands(), "{verdict}");
    verdict
}

#[test]
fn the_sample_card_stands() {
    let room = tempfile::tempdir().expect("a folder");
    let verdict = stands(&job(SAMPLE_CARD, "sample_card", &[], room.path()));
    assert!(verdict.figures[0].contains("9 kinds of events"), "{verdict}");
}

#[test]
fn the_organs_cards_stand() {
    let room = tempfile::tempdir().expect("a folder");
    stands(&job(env!("CARGO_BIN_EXE_organ_memory"), "organ_memory", &[], room.path()));
    let verdict = stands(&job(env!("CARGO_BIN_EXE_organ_pistons"), "organ_pistons", &[], room.path()));
    assert!(verdict.taken.iter().any(|t| t.starts_with("assuming never")), "{verdict}");
}

#[test]
fn the_bridge_beside_packages_that_stay_stands() {
    let room = tempfile::tempdir().expect("a folder");
    let verdict = stands(&job(LOOM_BRIDGE, "loom_bridge", &["--keep", "U1,U2", "--device", "22V10"], room.path()));
    assert!(verdict.taken.iter().any(|t| t == "acknowledged: clash_n"), "{verdict}");
}

#[test]
fn the_bridge_split_over_four_devices_stands() {
    let room = tempfile::tempdir().expect("a folder");
    stands(&job(LOOM_BRIDGE, "loom_bridge", &["--split", "--device", "22V10"], room.path()));
}

/// A folder with one thing changed, and everything that ties it together made right again: only the change is left to object
/// to.
fn tampered(folder: &Path, change: impl FnOnce(&Path)) -> Verdict {
    let room = tempfile::tempdir().expect("a folder");
    for file in fs::read_dir(folder).expect("written") {
        let file = file.expect("readable");
        fs::copy(file.path(), room.path().join(file.file_name())).expect("copied");
    }
    change(room.path());
    check(room.path())
}

fn certificate(folder: &Path) -> Value {
    serde_json::from_slice(&fs::read(folder.join("certificate.json")).expect("written")).expect("JSON")
}

fn put(folder: &Path, certificate: &Value) {
    fs::write(folder.join("certificate.json"), certificate.to_string()).expect("written");
}

/// Ties the certificate to the files as they are now.
fn tie(folder: &Path) {
    let mut all = certificate(folder);
    for file in all["files"].as_array_mut().expect("files") {
        let bytes = fs::read(folder.join(file["name"].as_str().expect("a name"))).expect("there");
        let digest: String = Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect();
        file["sha256"] = digest.into();
    }
    put(folder, &all);
}

fn edit(folder: &Path, name: &str, from: &str, to: &str) {
    let text = fs::read_to_string(folder.join(name)).expect("there");
    assert_eq!(text.matches(from).count(), 1, "{from}");
    fs::write(folder.join(name), text.replace(from, to)).expect("written");
}

/// Turns one fuse over and makes both checksums of the file right again.
fn turn_fuse(folder: &Path, fuse: usize) {
    let path = folder.join("22v10.jed");
    let text = fs::read_to_string(&path).expect("there");
    let read = gluewright::fusefile::read("22v10.jed", text.as_bytes()).expect("a fuse file").0;
    let mut states: Vec<bool> = (0..5892).map(|f| read.fuses.get(f) == Some(true)).collect();
    states[fuse] ^= true;
    let bits: String = states.iter().map(|&b| if b { '1' } else { '0' }).collect();
    let words = states.chunks(8).map(|w| w.iter().enumerate().map(|(i, &b)| u32::from(b) << i).sum::<u32>());
    let body = format!("\u{2}*QF5892*L0 {bits}*C{:04X}*\u{3}", words.sum::<u32>() & 0xFFFF);
    let sum = body.bytes().map(u32::from).sum::<u32>() & 0xFFFF;
    fs::write(path, format!("{body}{sum:04X}")).expect("written");
}

fn objects(verdict: &Verdict, words: &str) {
    println!("{words:?}: {:#?}", verdict.objections);
    assert!(verdict.objections.iter().any(|o| o.contains(words)), "{words}: {verdict}");
}

#[test]
fn each_kind_of_tampering_gets_an_objection_of_its_own() {
    let room = tempfile::tempdir().expect("a folder");
    let folder = job(SAMPLE_CARD, "sample_card", &[], room.path());
    // nothing but the ties made anew: it stands
    assert!(tampered(&folder, tie).stands());

    // a file changed behind the certificate's back
    objects(
        &tampered(&folder, |f| edit(f, "trace.csv", "U5,74LS02,6,seen", "U5,74LS02,6,was")),
        "trace.csv: its SHA-256 digest",
    );
    objects(&tampered(&folder, |f| turn_fuse(f, 60)), "22v10.jed: its SHA-256 digest");
    let digest = |f: &Path| {
        let mut all = certificate(f);
        all["files"][0]["sha256"] = "00".repeat(32).into();
        put(f, &all);
    };
    objects(&tampered(&folder, digest), "its SHA-256 digest is not the one in the certificate");

    // a row of the trace changed, and tied: the flag's gate reads another register
    let verdict = tampered(&folder, |f| {
        edit(f, "trace.csv", "U5,74LS02,6,seen", "U5,74LS02,6,was");
        tie(f);
    });
    objects(&verdict, "the certificate's original has another function as data of");
    objects(&verdict, "a change at 1: the relation is not kept");

    // another part with the same pins
    let verdict = tampered(&folder, |f| {
        let text = fs::read_to_string(f.join("trace.csv")).expect("there");
        fs::write(f.join("trace.csv"), text.replace("74LS05", "74LS06")).expect("written");
        tie(f);
    });
    assert!(verdict.stands(), "both invert into an open collector: {verdict}");
    let verdict = tampered(&folder, |f| {
        let text = fs::read_to_string(f.join("trace.csv")).expect("there");
        fs::write(f.join("trace.csv"), text.replace("74LS05", "74LS07")).expect("written");
        tie(f);
    });
    objects(&verdict, "contact 18 shows");

    // a wire of the adapter on another pin
    let verdict = tampered(&folder, |f| {
        let text = fs::read_to_string(f.join("wiring.csv")).expect("there");
        let swapped =
            text.replace("8,gauge[0],", "X,").replace("9,gauge[1],", "8,gauge[0],").replace("X,", "9,gauge[1],");
        fs::write(f.join("wiring.csv"), swapped).expect("written");
        tie(f);
    });
    objects(&verdict, "the certificate's replacement has another function as data of");

    // a fuse that is used, both checksums and the digest made right
    let map = gluewright::fusefile::read("22v10.jed", &fs::read(folder.join("22v10.jed")).expect("there"))
        .expect("a fuse file")
        .0;
    let used = (44..5764)
        .find(|&f| map.fuses.get(f) == Some(false) && f % 44 != 0 && map.fuses.get(f ^ 1) == Some(true))
        .expect("a link");
    let verdict = tampered(&folder, |f| {
        turn_fuse(f, used);
        tie(f);
    });
    objects(&verdict, "the certificate's replacement has another function");

    // one bit of the relation turned round
    let verdict = tampered(&folder, |f| {
        let mut all = certificate(f);
        let classes = all["proofs"][0]["relation"]["classes"].as_array_mut().expect("classes");
        let class = classes.iter_mut().find(|c| c["bits"].as_array().is_some_and(|b| b.len() > 1)).expect("two bits");
        let inverted = class["bits"][0]["inverted"].as_bool().expect("a truth value");
        class["bits"][0]["inverted"] = (!inverted).into();
        put(f, &all);
    });
    objects(&verdict, "the relation is not kept");
    let verdict = tampered(&folder, |f| {
        let mut all = certificate(f);
        let classes = all["proofs"][0]["relation"]["classes"].as_array_mut().expect("classes");
        classes.retain(|c| !c["bits"].as_array().is_some_and(|b| b.iter().any(|b| b["bit"] == "U2.state[0]")));
        put(f, &all);
    });
    assert!(!verdict.stands(), "a class is missing");

    // one gate of either circuit in the certificate
    for side in ["original", "replacement"] {
        let verdict = tampered(&folder, |f| {
            let mut all = certificate(f);
            let element = &all["systems"][side]["elements"][0];
            let data = element["inputs"][1].as_u64().expect("a number") as usize;
            let gate = &mut all["systems"][side]["expressions"][data];
            *gate = serde_json::json!({"constant": true});
            put(f, &all);
        });
        objects(&verdict, &format!("the certificate's {side} has another function as data of"));
    }

    // something else where a certificate should be
    objects(&tampered(&folder, |f| fs::write(f.join("certificate.json"), "{}").expect("written")), "certificate.json");
    objects(&tampered(&folder, |f| fs::remove_file(f.join("22v10.jed")).expect("there")), "22v10.jed");
}
