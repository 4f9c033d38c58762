//! What is known of the board around the card reaches the first screen, the tables and the report.
#![allow(clippy::expect_used)] // a check stops at what it did not expect
use std::fs;
use std::process::Command;

use gluewright::host::Host;

/// The bridge with two packages kept, told this about its controller.
fn bridge(host: &[&str]) -> (String, tempfile::TempDir) {
    let room = tempfile::tempdir().expect("a folder");
    let mut command = Command::new(env!("CARGO_BIN_EXE_loom_bridge"));
    command.args(["--keep", "U1,U2", "--device", "22V10", "--without-vectors"]).args(host);
    let output = command.arg("--out").arg(room.path()).output().expect("it starts");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    (String::from_utf8(output.stdout).expect("text"), room)
}

#[test]
fn by_what_the_host_gives_a_grade_is_safe() {
    let (alone, _) = bridge(&[]);
    assert!(alone.contains("no speed grade is known to be safe everywhere"), "{alone}");
    assert!(alone.contains("The host must give or bear"), "{alone}");
    assert!(alone.contains("(`stable_before`)"), "{alone}");
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/src/loom_bridge_host.csv");
    let (told, room) = bridge(&["--host", file]);
    assert!(told.contains("the slowest speed grade that is safe everywhere is"), "{told}");
    assert!(told.contains("By what the host gives:") && told.contains(" 0 fail"), "{told}");
    let folder = room.path().join("loom_bridge");
    assert_eq!(fs::read(folder.join("host.csv")).expect("kept"), fs::read(file).expect("there"));
    let of = |name: &str| fs::read_to_string(folder.join(name)).expect("written");
    assert!(of("timing.csv").contains("controller manual, figure 7"));
    assert!(of("loading.csv").contains("sinks: pass"), "{}", of("loading.csv"));
    assert!(of("report.html").contains("With what hangs on the contacts, by host.csv"));
}

#[test]
fn a_file_with_a_mistake_stops_the_job_with_its_line() {
    let room = tempfile::tempdir().expect("a folder");
    let file = room.path().join("host.csv");
    fs::write(&file, "contact,what,value,known_from\n9,period,100,guessed\n").expect("written");
    let card = gluewright_examples::sample_card::lost_card().expect("sound");
    let read = Host::from_csv("host.csv", fs::read(&file).expect("there"), &card);
    assert!(read.is_ok(), "contact 9 of the sample card carries a signal");
    fs::write(&file, "contact,what,value,known_from\n90,period,100,guessed\n").expect("written");
    let mut command = Command::new(env!("CARGO_BIN_EXE_sample_card"));
    let output = command
        .args(["--without-vectors", "--host"])
        .arg(&file)
        .arg("--out")
        .arg(room.path())
        .output()
        .expect("it starts");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("host.csv:2: contact: the card has no contact `90`"), "{said}");
}
