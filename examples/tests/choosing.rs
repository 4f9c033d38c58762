//! Choosing as a user does it: the survey, a split and packages that stay, and what they write, put together again from
//! the files alone and proved against the traced card.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)] // a check stops at what it did not expect
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use gluewright::board::Library;
use gluewright::circuit::{Circuit, Contact, Label, Landing, NetId, Origin};
use gluewright::drawer::Drawer;
use gluewright::fit::Wishes;
use gluewright::prelude::*;
use gluewright::{device, fusefile};
use gluewright_examples::loom_bridge::{LoomBridge, lost_bridge};
use serde_json::{Value, json};

fn run(program: &str, arguments: &[&str]) -> Output {
    Command::new(program).args(arguments).output().expect("it starts")
}

fn bridge(arguments: &[&str]) -> Output {
    run(env!("CARGO_BIN_EXE_loom_bridge"), arguments)
}

fn parsed(output: &Output) -> Value {
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn the_survey_of_the_sample_card() {
    let survey = parsed(&run(env!("CARGO_BIN_EXE_sample_card"), &["--survey", "--json"]));
    let rows = survey["rows"].as_array().expect("rows");
    let of_today = device::all().iter().filter(|d| d.burned_today);
    assert_eq!(rows.len(), of_today.count(), "a row for every device that is burned today");
    let of = |name: &str| rows.iter().find(|r| r["device"] == name).expect("listed");
    let fits = of("22V10");
    assert_eq!(
        json!([fits["outcome"], fits["macrocells"], fits["terms"], fits["pins_left"], fits["widest"]["terms"]]),
        json!(["fits", 10, 21, 3, 3])
    );
    // reset to a cleared register 9 ns as to its pin, from there to the driver 7.5 ns (GAL22V10D -7, sheet p.7)
    let delay = fits["delays"].as_array().expect("delays").iter().find(|d| d["grade"] == "-7").expect("listed");
    assert_eq!(json!([delay["nanoseconds"], delay["complete"], delay["from_memory"]]), json!([16.5, true, false]));
    assert!(delay["path"].as_str().is_some_and(|p| p.ends_with("reset to irq")), "{delay}");
    let no = of("16V8")["reason"].as_str().expect("a reason").to_owned();
    assert!(no.contains("a 16V8 has no reset term: make it part of what is loaded, or choose a 22V10"), "{no}");
    assert_eq!(of("CPLD-32")["outcome"], "fits");
    assert_eq!(survey["keep"], Value::Null, "one device holds it all");
    let text = run(env!("CARGO_BIN_EXE_sample_card"), &["--survey"]);
    let text = String::from_utf8(text.stdout).expect("text");
    assert!(text.contains("Which devices hold `sample_card`?") && text.contains("data[0]: 3 of 8"), "{text}");
}

#[test]
fn the_survey_of_the_bridge_says_that_keeping_two_packages_is_best() {
    let survey = parsed(&bridge(&["--survey", "--json"]));
    let split = &survey["several"][0];
    assert_eq!(
        json!([split["device"], split["count"], split["fewest"], split["between"]]),
        json!(["22V10", 4, true, 1])
    );
    let keep = &survey["keep"];
    assert_eq!(keep["kept"], json!([["U1", "74LS373"], ["U2", "74LS373"]]));
    assert_eq!(
        json!([keep["device"], keep["macrocells"], keep["wires"], keep["fewest"]]),
        json!(["22V10", 9, 11, true])
    );
    assert!(
        survey["rows"].as_array().expect("rows").iter().any(|r| r["device"] == "CPLD-32" && r["outcome"] == "fits")
    );
    let text = String::from_utf8(bridge(&["--survey"]).stdout).expect("text");
    assert!(text.contains("Best: leave U1 (74LS373) and U2 (74LS373) in place and burn one 22V10"), "{text}");
}

/// What the survey proposes to keep is what a job then does: a wish that the rest can't fulfil is no proposal.
#[test]
fn the_survey_heeds_wishes_where_packages_stay() {
    let wishes = || Wishes::none().pin("1", 5);
    let job = || {
        gluewright::job::<LoomBridge>(lost_bridge())
            .acknowledging("clash_n")
            .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
            .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
            .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
            .testing(None)
            .wishing(wishes())
    };
    let found = job().survey(&Drawer::generic()).expect("surveyed").keep;
    // registers are clocked at pin 1 of every device with a fuse map: they have to stay, or nothing is proposed
    if let Some(keep) = found {
        let kept: Vec<String> = keep.kept.iter().map(|(reference, _)| reference.clone()).collect();
        job().keeping(kept).fitting(keep.device).make().expect("what is proposed can be done");
    }
}

/// A row of the wiring list: contact, signal, device, pin.
type Wire = [String; 4];

fn wires(folder: &Path) -> Vec<Wire> {
    let mut lines = csv_lines(&fs::read_to_string(folder.join("wiring.csv")).expect("written"));
    assert_eq!(lines.remove(0).join(","), "contact,signal,device,pin");
    lines
}

fn csv_lines(text: &str) -> Vec<Wire> {
    let fields = |line: &str| {
        let fields: Vec<String> = line.split(',').map(str::to_owned).collect();
        fields.try_into().expect("four fields")
    };
    text.lines().map(fields).collect()
}

/// What the wiring list makes of the devices burned from the fuse files, and of the packages that stay.
fn assembled(folder: &Path, wires: &[Wire], kept: &[(&str, &str)]) -> Circuit {
    let like = gluewright::circuit_of::<LoomBridge>().expect("sound");
    let mut whole = Circuit::new("assembled");
    let mut nets: Vec<(String, NetId)> = Vec::new();
    for contact in like.contacts() {
        let net = whole.add_net(contact.name.clone(), Origin::Nowhere);
        whole.add_contact(Contact { net, ..contact.clone() });
        nets.push((contact.label.to_string(), net));
    }
    for [contact, ..] in wires {
        if !nets.iter().any(|(name, _)| name == contact) {
            nets.push((contact.clone(), whole.add_net(contact.clone(), Origin::Nowhere)));
        }
    }
    let landing = |of: &str, pin: &Label| {
        let row = wires.iter().find(|[_, _, device, number]| device == of && number == pin.as_str());
        row.map_or(Landing::Open, |[contact, signal, ..]| match signal.as_str() {
            "VCC" => Landing::Tied(true),
            "GND" => Landing::Tied(false),
            _ => Landing::Net(nets.iter().find(|(name, _)| name == contact).expect("a net").1),
        })
    };
    for file in fs::read_dir(folder).expect("written").map(|f| f.expect("readable").file_name()) {
        let file = file.to_string_lossy().into_owned();
        if let Some((reference, device)) = file.strip_suffix(".jed").and_then(|name| name.split_once('_')) {
            let bytes = fs::read(folder.join(&file)).expect("readable");
            let (read, _) = fusefile::read(&file, &bytes).expect("a fuse file");
            let lifted = device::find(device).expect("known").lift(&read.fuses).expect("its fuses");
            let reference = reference.to_uppercase();
            whole.place(&reference, &lifted, |pin| landing(&reference, pin));
        }
    }
    for (reference, part) in kept {
        let part = gluewright_parts::ttl().part(part).expect("known");
        whole.place(reference, part.circuit(), |pin| landing(reference, pin));
    }
    whole
}

fn proof_of(whole: Circuit) -> Result<gluewright::prove::Proof, Failure> {
    let (_, question) = prove::<LoomBridge>().question(&lost_bridge().expect("sound")).expect("a question");
    question
        .about(whole)
        .in_another_form()
        .acknowledging("clash_n")
        .acknowledging("data of U1.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of U2.q[0] and 7 others of the original when 3 to_loom changes")
        .acknowledging("data of a[0] and 7 others of the replacement when 3 to_loom changes")
        .acknowledging("data of b[0] and 7 others of the replacement when 3 to_loom changes")
        .ask()
}

/// The same wiring with two pins of a device exchanged.
fn exchanged(wires: &[Wire], of: &str, one: &str, other: &str) -> Vec<Wire> {
    let at = |signal: &str| wires.iter().position(|w| w[2] == of && w[1] == signal).expect("wired");
    let (a, b) = (at(one), at(other));
    let mut wires = wires.to_vec();
    let pin = wires[a][3].clone();
    wires[a][3] = std::mem::replace(&mut wires[b][3], pin);
    wires
}

#[test]
fn the_bridge_over_four_devices() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    let record = parsed(&bridge(&["--split", "--device", "22V10", "--json", "--out", out]));
    assert_eq!(record["devices"].as_array().map(Vec::len), Some(4));
    assert_eq!(record["split"]["fewest_devices"], true);
    assert_eq!(record["proofs"][1]["verdict"], "proved");
    let folder = room.path().join("loom_bridge");
    let wires = wires(&folder);
    let grant: Vec<&Wire> = wires.iter().filter(|w| w[0] == "W1").collect();
    assert!(grant.len() > 1 && grant.iter().all(|w| w[1] == "granted"), "{grant:?}");
    proof_of(assembled(&folder, &wires, &[])).expect("the files alone make the same");
    // the wire between devices and a contact, exchanged at one device that reads both
    let from = record["split"]["between"][0]["from"].as_str().expect("a device");
    let reader = grant.iter().map(|w| w[2].as_str()).find(|of| *of != from).expect("a reader");
    let wrong = exchanged(&wires, reader, "granted", "request");
    assert!(matches!(proof_of(assembled(&folder, &wrong, &[])), Err(Failure::Refuted(_))));
    // no grade is safe, so that nobody knows which part is burned: the form asks for no limit, and the sheet names the grade
    let (sheet, form) = (sheet(&folder), form(&folder));
    assert_eq!(form["current, with the device,bench supply"], ",");
    assert!(sheet.contains("D1, D2, D3 and D4 take together: at most 560 mA (grade -7, from memory)"));
    // what no step brings is not asked for
    assert!(sheet.contains("In these steps the card never drives 10 a[0] low"));
    assert!(form.contains_key("level, driven high,10 a0") && !form.contains_key("level, driven low,10 a0"));
}

/// The report's words alone.
fn sheet(folder: &Path) -> String {
    let page = fs::read_to_string(folder.join("report.html")).expect("written");
    let mut words = String::new();
    for piece in page.split('<') {
        words.push_str(piece.split_once('>').map_or(piece, |(_, words)| words));
    }
    words
}

/// The rows of the bench's form: what is measured and where, and between which limits. Of two alike the last.
fn form(folder: &Path) -> std::collections::BTreeMap<String, String> {
    let mut reader = csv::Reader::from_path(folder.join("bring_up.csv")).expect("written");
    let rows = reader.records().map(|r| r.expect("a row"));
    rows.map(|r| (format!("{},{}", &r[2], &r[3]), format!("{},{}", &r[4], &r[5]))).collect()
}

#[test]
fn the_bridge_with_its_two_latches_left_in_place() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    let record = parsed(&bridge(&["--keep", "U1,U2", "--device", "22V10", "--json", "--out", out]));
    assert_eq!(record["kept"][1], json!({ "reference": "U2", "part": "74LS373" }));
    assert_eq!(json!([record["devices"][0]["reference"], record["devices"][0]["macrocells"]]), json!(["D1", 9]));
    let folder = room.path().join("loom_bridge");
    let wires = wires(&folder);
    let of = |device: &str| wires.iter().filter(|w| w[2] == device).count();
    assert_eq!((of("U1"), of("U2")), (20, 20), "every pin of a kept package has its row");
    let kept = [("U1", "74LS373"), ("U2", "74LS373")];
    proof_of(assembled(&folder, &wires, &kept)).expect("the files alone make the same");
    let wrong = exchanged(&wires, "D1", "drive_a_n", "drive_b_n");
    assert!(matches!(proof_of(assembled(&folder, &wrong, &kept)), Err(Failure::Refuted(_))));
    times_over_several_devices_are_added_up(&folder);
    // what stays sits on the adapter: 130 mA of the device in its nearest grade, and 40 of each latch
    let (sheet, form) = (sheet(&folder), form(&folder));
    assert!(sheet.contains("D1, U1 and U2 take together: at most 210 mA (grade -10, from memory)"));
    assert!(sheet.contains("its sockets empty (D1, U1 and U2)"));
    let supply = "supply at the device,D1 pin 24, U1 pin 20, U2 pin 20 against D1 pin 12, U1 pin 10, U2 pin 10";
    assert_eq!(form[supply], "4.75,5.25");
}

/// From a contact through the device to the output-enable pin of a kept latch, and on to its output.
fn times_over_several_devices_are_added_up(folder: &Path) {
    let times = fs::read_to_string(folder.join("timing.csv")).expect("written");
    let both = |l: &&str| l.starts_with("enable,") && l.contains("D1 request");
    let enable = times.lines().find(both).expect("a path over both");
    assert!(enable.contains("(74LS373) pin 1 to "), "{enable}");
    let equations = fs::read_to_string(folder.join("equations.txt")).expect("written");
    assert!(!equations.contains("U3.state") && equations.contains("granted"), "{equations}");
}

#[test]
fn what_can_not_be_done_is_status_two_and_writes_nothing() {
    let room = tempfile::tempdir().expect("a folder");
    let drawer = room.path().join("drawer.csv");
    fs::write(&drawer, "maker,type,grade,package,count\n,22V10,-15,DIP-24,3\n").expect("written");
    let wrong = room.path().join("wrong.csv");
    fs::write(&wrong, "type,count\n22V10,1\n22V1O,some\n").expect("written");
    let out = room.path().join("out");
    let (out, drawer, wrong) =
        (out.to_str().expect("text"), drawer.to_str().expect("text"), wrong.to_str().expect("text"));
    for (arguments, says) in [
        (&["--keep", "U9", "--out", out][..], "there is no package `U9` on the card: did you mean U1"),
        (&["--keep", "U1", "--split", "--out", out], "cannot be used with"),
        (&["--keep", "U3", "--device", "22V10", "--out", out], "does not fit a 22V10"),
        (
            &["--split", "--device", "22V10", "--drawer", drawer, "--out", out],
            "needs at least 4 of 22V10, 3 are in the drawer",
        ),
        (&["--split", "--device", "CPLD-32", "--out", out], "has no fuse map"),
        (&["--survey", "--drawer", wrong], "wrong.csv:3: count: `some` is no count"),
        (&["--survey", "--drawer", wrong], "did you mean 22V10?"),
        (&["--survey", "--drawer", "no/such.csv"], "can't read the drawer no/such.csv"),
    ] {
        let output = bridge(arguments);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(says), "{arguments:?}: {said}");
        assert!(!Path::new(out).exists(), "{arguments:?}");
    }
}

#[test]
fn a_drawer_with_three_large_devices_and_a_few_small_ones() {
    // what one type can't do, several together do: the three 22V10 hold what has registers or floats by a condition
    let room = tempfile::tempdir().expect("a folder");
    let drawer = room.path().join("drawer.csv");
    fs::write(&drawer, "maker,type,grade,package,count\n,22V10,-15,DIP-24,3\n,20V8,-15,DIP-24,4\n").expect("written");
    let (drawer, out) = (drawer.to_str().expect("text"), room.path().to_str().expect("text"));
    let record = parsed(&bridge(&["--split", "--drawer", drawer, "--json", "--without-vectors", "--out", out]));
    let devices = record["devices"].as_array().expect("devices");
    let of = |name: &str| devices.iter().filter(|d| d["device"] == name).count();
    assert_eq!(of("22V10") + of("20V8"), devices.len());
    assert!(of("22V10") <= 3 && of("20V8") >= 1, "{record}");
    let folder = room.path().join("loom_bridge");
    let wires = wires(&folder);
    proof_of(assembled(&folder, &wires, &[])).expect("the files alone make the same");
    assert!(folder.join("timing.csv").exists() && folder.join("report.html").exists());
    let survey = parsed(&bridge(&["--survey", "--json", "--drawer", drawer]));
    let split = survey["several"].as_array().expect("splits").iter().find(|s| s["count"] == devices.len());
    assert!(split.is_some_and(|s| s["device"].as_str().is_some_and(|d| d.contains(" and "))), "{survey}");
}

#[test]
fn the_pins_of_the_programming_port_can_be_used() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    let kept = bridge(&["--out", out]);
    let freed = bridge(&["--use-port-pins", "--out", out]);
    let said = |o: &Output| String::from_utf8_lossy(&o.stdout).into_owned();
    assert!(said(&kept).contains("Kept for the programming port: "), "{}", said(&kept));
    assert_eq!(freed.status.code(), Some(0), "{}", String::from_utf8_lossy(&freed.stderr));
    assert!(said(&freed).contains("The programming port is given up"), "{}", said(&freed));
}
