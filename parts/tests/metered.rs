//! The program for a meter's readings, as a user starts it: what it says, what it writes, and its exit status.
#![allow(clippy::unwrap_used, clippy::panic, reason = "the files are those of this test")]
use std::path::Path;
use std::process::{Command, Output};

use gluewright::board::Reading;
use gluewright_parts::ttl;

const PARTS: &str = "ref,part,pins\nJ1,contacts,1-4\nU1,74LS00,\nR1,resistor,\n";

/// One gate of a 74LS00 between contacts 1, 2 and 3, a pull-up on contact 3, everything else open; contact 4 is ground.
fn readings() -> String {
    let mut rows =
        "from,to,ohms\nU1.14,VCC,0.2\nU1.7,GND,0.1\nU1.7,4,0\n1,U1.1,0.2\n2,U1.2,0.2\nU1.3,3,0.3\n".to_owned();
    rows += "R1.1,U1.3,0\nR1.2,U1.14,0\nR1.1,R1.2,4k7\nU1.1,others,open\nU1.3,others,open\n4,others,open\nU1.14,others,open\n";
    rows += &[4, 5, 6, 8, 9, 10, 11, 12, 13].map(|pin| format!("U1.{pin},others,open\n")).concat();
    rows
}

fn run(room: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gluewright"));
    let Output { status, stdout, stderr } =
        command.current_dir(room).arg("continuity").args(arguments).output().unwrap();
    (status.code(), String::from_utf8_lossy(&stdout).into_owned() + &String::from_utf8_lossy(&stderr))
}

#[test]
fn settled_readings_become_a_trace_and_others_do_not() {
    let room = tempfile::tempdir().unwrap();
    let save = |name: &str, text: &str| std::fs::write(room.path().join(name), text).unwrap();
    save("parts.csv", PARTS);
    save("all.csv", &readings());
    let (status, said) = run(room.path(), &["all.csv", "--parts", "parts.csv", "--trace", "card.csv"]);
    assert_eq!(status, Some(0), "{said}");
    let trace = std::fs::read_to_string(room.path().join("card.csv")).unwrap();
    assert!(trace.contains("R1,resistor 4.7k,1,U1_3\n") && trace.contains("U1,74LS00,4,open\n"), "{trace}");
    let board = Reading::new().csv("card.csv", &trace, ttl()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(board.circuit().unwrap_or_else(|e| panic!("{e}")).contacts().len(), 3, "a supply is no contact");

    // a trace that is there may hold corrections by hand
    save("card.csv", "corrected by hand\n");
    let (status, said) = run(room.path(), &["all.csv", "--parts", "parts.csv", "--trace", "card.csv"]);
    assert!(status == Some(2) && said.contains("card.csv is there already"), "{said}");
    assert_eq!(std::fs::read_to_string(room.path().join("card.csv")).unwrap(), "corrected by hand\n");

    save("some.csv", &readings().replace("U1.3,3,0.3", "U1.3,3,open"));
    let (status, said) = run(room.path(), &["some.csv", "--parts", "parts.csv", "--trace", "none.csv"]);
    assert_eq!(status, Some(1), "{said}");
    assert!(said.contains("measure next") && !room.path().join("none.csv").exists(), "{said}");
    let (status, said) = run(room.path(), &["some.csv", "--parts", "parts.csv", "--trace", "part.csv", "--unfinished"]);
    assert_eq!(status, Some(1), "{said}");
    assert!(std::fs::read_to_string(room.path().join("part.csv")).unwrap().contains("J1,contacts,3,untraced\n"));

    save("wrong.csv", "from,to,ohms\nU9.1,1,0\n");
    let (status, said) = run(room.path(), &["wrong.csv", "--parts", "parts.csv", "--json"]);
    assert_eq!(status, Some(2), "{said}");
    assert!(said.contains("wrong.csv:2: "), "{said}");
}
