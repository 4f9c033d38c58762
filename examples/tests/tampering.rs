//! Mutants of the evidence of every example: a row of the trace, a fuse, a gate of the certificate is changed, and every digest
//! and checksum made right again. The checker must object to each that makes a difference. Whether it does is told by another
//! hand: the prover for traces and devices, drawn values for gates. A mutant that makes none counts for nothing.
//!
//! A sample runs by default; `cargo test -p gluewright-examples --test checks tampering:: -- --ignored --nocapture` prints the whole table.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use gluewright::circuit::Circuit;
use gluewright::device::find;
use gluewright::prove::{Failure, Question};
use gluewright_checker::folder::check;
use gluewright_tests::boards::board;
use gluewright_tests::gates::Numbers;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

/// An example's job: the program, the folder, arguments.
const JOBS: [(&str, &str, &[&str]); 4] = [
    (env!("CARGO_BIN_EXE_sample_card"), "sample_card", &[]),
    (env!("CARGO_BIN_EXE_organ_memory"), "organ_memory", &[]),
    (env!("CARGO_BIN_EXE_organ_pistons"), "organ_pistons", &[]),
    (env!("CARGO_BIN_EXE_loom_bridge"), "loom_bridge", &["--keep", "U1,U2", "--device", "22V10"]),
];

fn job((program, name, arguments): (&str, &str, &[&str]), room: &Path) -> PathBuf {
    let out = room.to_str().expect("text");
    let output =
        Command::new(program).args(arguments).args(["--without-vectors", "--out", out]).output().expect("it starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    room.join(name)
}

fn certificate(folder: &Path) -> Value {
    serde_json::from_slice(&fs::read(folder.join("certificate.json")).expect("written")).expect("JSON")
}

/// Ties a certificate to the files as they are now.
fn tie(folder: &Path, mut all: Value) {
    for file in all["files"].as_array_mut().expect("files") {
        let bytes = fs::read(folder.join(file["name"].as_str().expect("a name"))).expect("there");
        let digest: String = Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect();
        file["sha256"] = digest.into();
    }
    fs::write(folder.join("certificate.json"), all.to_string()).expect("written");
}

/// What the checker objects to once something in a copy of the folder is changed and tied.
fn objections(folder: &Path, change: impl FnOnce(&Path) -> Value) -> Vec<String> {
    let room = tempfile::tempdir().expect("a folder");
    for file in fs::read_dir(folder).expect("written") {
        let file = file.expect("readable");
        fs::copy(file.path(), room.path().join(file.file_name())).expect("copied");
    }
    let all = change(room.path());
    tie(room.path(), all);
    check(room.path()).objections
}

/// What became of mutants.
#[derive(Default)]
struct Tally {
    made: usize,
    caught: usize,
    /// They make no difference, and the claim stands.
    equal: usize,
    /// They make no difference, and the checker objects: to a certificate that no longer fits.
    strict: usize,
    /// Nobody could say in time whether they make a difference.
    open: usize,
    missed: Vec<String>,
}

impl Tally {
    fn count(&mut self, what: &str, objections: &[String], differs: Option<bool>) {
        self.made += 1;
        match (objections.is_empty(), differs) {
            (_, None) => self.open += 1,
            (false, Some(true)) => self.caught += 1,
            (true, Some(false)) => self.equal += 1,
            (false, Some(false)) => self.strict += 1,
            (true, Some(true)) => self.missed.push(what.to_owned()),
        }
    }
}

/// Whether two circuits differ, as the prover sees it; nothing if it can't tell.
fn differ(original: Circuit, replacement: Circuit) -> Option<bool> {
    let question = Question::new(original, replacement).settled_only().in_time(Duration::from_secs(5));
    match question.ask() {
        Ok(_) => Some(false),
        Err(Failure::Refuted(_)) => Some(true),
        Err(_) => None,
    }
}

fn rows(folder: &Path, n: &mut Numbers, many: usize) -> Tally {
    let text = fs::read_to_string(folder.join("trace.csv")).expect("written");
    let lines: Vec<Vec<String>> = text.lines().map(|l| l.split(',').map(str::to_owned).collect()).collect();
    let is_rail = |net: &str| ["VCC", "GND", "open", "net"].contains(&net);
    let logic: Vec<usize> =
        (1..lines.len()).filter(|&i| lines[i][0].starts_with('U') && !is_rail(&lines[i][3])).collect();
    let mut nets: Vec<&String> = logic.iter().map(|&i| &lines[i][3]).collect();
    nets.sort();
    nets.dedup();
    let whole = board(&text).expect("the example's own");
    let mut tally = Tally::default();
    for _ in 0..many {
        let (row, net) = (logic[n.below(logic.len())], nets[n.below(nets.len())]);
        if lines[row][3] == *net {
            continue;
        }
        let mut changed = lines.clone();
        changed[row][3].clone_from(net);
        let text = changed.iter().map(|l| l.join(",")).collect::<Vec<_>>().join("\n") + "\n";
        let said = objections(folder, |f| {
            fs::write(f.join("trace.csv"), &text).expect("written");
            certificate(f)
        });
        // a trace that is no board is another one
        let differs = board(&text).map_or(Some(true), |other| differ(other, whole.clone()));
        tally.count(&format!("{} instead of {}", changed[row].join(","), lines[row][3]), &said, differs);
    }
    tally
}

fn fuses(folder: &Path, n: &mut Numbers, many: usize) -> Tally {
    let mut tally = Tally::default();
    let names: Vec<String> = certificate(folder)["files"]
        .as_array()
        .expect("files")
        .iter()
        .filter_map(|f| f["name"].as_str().filter(|n| n.ends_with(".jed")).map(str::to_owned))
        .collect();
    let parts = fs::read_to_string(folder.join("parts.csv")).expect("written");
    for name in &names {
        let kind = parts.lines().find(|l| l.split(',').any(|f| f == name)).and_then(|l| l.split(',').nth(1));
        let device = find(kind.expect("a device")).expect("known");
        let file = gluewright::fusefile::read(name, &fs::read(folder.join(name)).expect("there")).expect("sound").0;
        let whole = device.lift(&file.fuses).expect("sound");
        // links of rows that are used: the other level of the same input is not linked
        let state = |f: usize| file.fuses.get(f);
        let linked: Vec<usize> =
            (0..file.fuses.len()).filter(|&f| state(f) == Some(false) && state(f ^ 1) == Some(true)).collect();
        for k in 0..many {
            let fuse = if k % 2 == 0 { n.below(file.fuses.len()) } else { linked[n.below(linked.len())] };
            let mut changed = file.clone();
            changed.fuses.set(fuse, !state(fuse).expect("there"));
            let said = objections(folder, |f| {
                fs::write(f.join(name), gluewright::fusefile::write(&changed)).expect("written");
                certificate(f)
            });
            let differs = device.lift(&changed.fuses).map_or(Some(true), |other| differ(whole.clone(), other));
            tally.count(&format!("{name}: fuse {fuse}"), &said, differs);
        }
    }
    tally
}

/// What follows in a circuit of the certificate from drawn values of its bits and contacts.
struct Drawn<'d> {
    system: &'d Value,
    seed: u64,
    nets: HashMap<u64, u64>,
    open: HashSet<u64>,
}

impl Drawn<'_> {
    fn any(&self, kind: u64, at: u64) -> u64 {
        let mut n = Numbers(self.seed ^ (kind << 40) ^ at.wrapping_mul(0x9E37_79B9));
        (0..8).fold(0, |word, _| word << 8 | n.below(256) as u64)
    }

    fn op(&mut self, id: u64) -> u64 {
        let op = &self.system["expressions"][id as usize];
        let (kind, of) = op.as_object().and_then(|o| o.iter().next()).expect("one word");
        let ids: Vec<u64> = of.as_array().into_iter().flatten().filter_map(Value::as_u64).collect();
        let one = of.as_u64().unwrap_or_default();
        match kind.as_str() {
            "constant" => {
                if of == &json!(true) {
                    u64::MAX
                } else {
                    0
                }
            }
            "net" => self.net(one),
            "q" => self.any(1, one),
            "q_inverted" => self.any(2, one),
            "not" => !self.op(one),
            "and" => ids.iter().fold(u64::MAX, |x, &i| x & self.op(i)),
            "or" => ids.iter().fold(0, |x, &i| x | self.op(i)),
            "xor" => self.op(ids[0]) ^ self.op(ids[1]),
            "choose" => {
                let when = self.op(ids[0]);
                when & self.op(ids[1]) | !when & self.op(ids[2])
            }
            other => panic!("{other}"),
        }
    }

    /// When a net is driven, and low.
    fn driven(&mut self, net: u64) -> (u64, u64) {
        let drivers = self.system["nets"][net as usize]["drivers"].as_array().expect("drivers").clone();
        drivers.iter().fold((0, 0), |(drive, low), d| {
            let (enable, level) = (d["enable"].as_u64().expect("a number"), d["level"].as_u64().expect("a number"));
            let (enable, level) = (self.op(enable), self.op(level));
            (drive | enable, low | enable & !level)
        })
    }

    fn net(&mut self, net: u64) -> u64 {
        if let Some(&known) = self.nets.get(&net) {
            return known;
        }
        // a loop of gates: what the net held
        if !self.open.insert(net) {
            return self.any(3, net);
        }
        let (drive, low) = self.driven(net);
        let free = match self.system["nets"][net as usize]["pull"].as_bool() {
            Some(true) => u64::MAX,
            Some(false) => 0,
            _ => self.any(4, net),
        };
        let value = drive & !low | !drive & free;
        self.open.remove(&net);
        self.nets.insert(net, value);
        value
    }
}

/// All that the contacts and the elements behind them take, and the expressions on which that hangs.
fn outputs(system: &Value, seed: u64) -> Vec<u64> {
    let mut d = Drawn { system, seed, nets: HashMap::new(), open: HashSet::new() };
    let mut all = Vec::new();
    for contact in system["contacts"].as_array().expect("contacts") {
        let (drive, low) = d.driven(contact["net"].as_u64().expect("a number"));
        all.extend([drive, low]);
    }
    for element in system["elements"].as_array().expect("elements") {
        let of = |which: usize| element["inputs"][which].as_u64().expect("a number");
        let unknown = d.op(of(4));
        all.extend([unknown, d.op(of(0)), d.op(of(1)) & !unknown, d.op(of(2)), d.op(of(3))]);
    }
    all
}

/// Expressions on which contacts hang, through nets and elements.
fn looked_at(system: &Value) -> Vec<u64> {
    let (mut ops, mut seen) = (HashSet::new(), HashSet::new());
    let mut nets: Vec<u64> =
        system["contacts"].as_array().expect("contacts").iter().filter_map(|c| c["net"].as_u64()).collect();
    let mut stack: Vec<u64> = Vec::new();
    loop {
        if let Some(net) = nets.pop() {
            if seen.insert(("net", net)) {
                for d in system["nets"][net as usize]["drivers"].as_array().expect("drivers") {
                    stack.extend([&d["enable"], &d["level"]].into_iter().filter_map(Value::as_u64));
                }
            }
        } else if let Some(op) = stack.pop() {
            if !ops.insert(op) {
                continue;
            }
            let (kind, of) =
                system["expressions"][op as usize].as_object().and_then(|o| o.iter().next()).expect("a word");
            let ids = of.as_array().into_iter().flatten().chain([of]).filter_map(Value::as_u64);
            match kind.as_str() {
                "constant" => {}
                "net" => nets.extend(ids),
                "q" | "q_inverted" => {
                    for e in ids.filter(|&e| seen.insert(("element", e))).collect::<Vec<_>>() {
                        let element = &system["elements"][e as usize];
                        let inputs = element["inputs"].as_array().expect("inputs");
                        stack.extend(inputs.iter().filter_map(Value::as_u64));
                    }
                }
                _ => stack.extend(ids),
            }
        } else {
            let mut ops: Vec<u64> = ops.into_iter().collect();
            ops.sort_unstable();
            return ops;
        }
    }
}

/// Another gate in an expression's place.
fn another(op: &Value) -> Value {
    let (kind, of) = op.as_object().and_then(|o| o.iter().next()).expect("one word");
    match kind.as_str() {
        "constant" => json!({"constant": of != &json!(true)}),
        "net" => json!({"constant": true}),
        "q" => json!({"q_inverted": of}),
        "q_inverted" => json!({"q": of}),
        "not" => json!({"or": [of]}),
        "and" => json!({"or": of}),
        "choose" => json!({"choose": [of[0], of[2], of[1]]}),
        _ => json!({"and": of}),
    }
}

fn gates(folder: &Path, side: &str, n: &mut Numbers, many: usize) -> Tally {
    let whole = certificate(folder);
    let ops = looked_at(&whole["systems"][side]);
    let mut tally = Tally::default();
    for _ in 0..many {
        let op = ops[n.below(ops.len())];
        let mut changed = whole.clone();
        let gate = &mut changed["systems"][side]["expressions"][op as usize];
        *gate = another(gate);
        let what = format!("{side}: expression {op} is {gate}");
        let differs = (0..64).any(|s| outputs(&whole["systems"][side], s) != outputs(&changed["systems"][side], s));
        let said = objections(folder, |_| changed);
        tally.count(&what, &said, Some(differs));
    }
    tally
}

/// The table, by example and kind.
fn table(many: usize) -> BTreeMap<(&'static str, &'static str), Tally> {
    let mut all = BTreeMap::new();
    for (number, of) in JOBS.into_iter().enumerate() {
        let room = tempfile::tempdir().expect("a folder");
        let folder = job(of, room.path());
        let whole = certificate(&folder);
        assert!(objections(&folder, |_| whole).is_empty(), "tied anew, and nothing else: it stands");
        let mut n = Numbers(1_000_003 * (number as u64 + 1));
        all.insert((of.1, "trace row"), rows(&folder, &mut n, many));
        all.insert((of.1, "fuse"), fuses(&folder, &mut n, many));
        all.insert((of.1, "gate of the original"), gates(&folder, "original", &mut n, many));
        all.insert((of.1, "gate of the replacement"), gates(&folder, "replacement", &mut n, many));
    }
    for ((example, kind), t) in &all {
        println!(
            "{example}, {kind}: {} of {} that differ are objected to; {} are equal and stand, {} are equal and objected to, of {} \
             nobody could say; missed {:?}",
            t.caught,
            t.caught + t.missed.len(),
            t.equal,
            t.strict,
            t.open,
            t.missed
        );
        assert_eq!(t.made, t.caught + t.equal + t.strict + t.open + t.missed.len());
    }
    all
}

fn holds(many: usize) {
    let table = table(many);
    for (of, tally) in &table {
        assert!(tally.missed.is_empty(), "{of:?}: {:#?}", tally.missed);
    }
    for kind in ["trace row", "fuse", "gate of the original", "gate of the replacement"] {
        let caught: usize = table.iter().filter(|((_, k), _)| *k == kind).map(|(_, t)| t.caught).sum();
        assert!(caught > 0, "no mutant of a {kind} makes a difference: nothing was tried");
    }
}

#[test]
fn a_sample_of_mutants_is_objected_to() {
    holds(4);
}

#[test]
#[ignore = "some 200 mutants of each example: minutes"]
fn every_kind_of_mutant_of_every_example_is_objected_to() {
    holds(50);
}
