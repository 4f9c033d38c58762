//! The program for traces of boards, as a user starts it: findings, errors, a boundary, JSON.
#![allow(clippy::unwrap_used, reason = "the files are those of this test")]
use std::path::Path;
use std::process::{Command, Output};

const BOARD: &str = "Reference,Value,Pin,Net\nU1,1820-1199,1,a\nU1,,2,y\nU1,,3,GND\nU1,,5,GND\nU1,,9,GND\nU1,,11,GND\nU1,,13,GND\n\
    U9,27C128,11,a\nU9,27C128,12,y\nQ1,transistor,B,y\n";

fn run(room: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_gluewright"));
    let Output { status, stdout, stderr } = command.current_dir(room).arg("trace").args(arguments).output().unwrap();
    (status.code(), String::from_utf8_lossy(&stdout).into_owned(), String::from_utf8_lossy(&stderr).into_owned())
}

#[test]
fn a_board_is_read_as_the_options_say() {
    let room = tempfile::tempdir().unwrap();
    let save = |name: &str, text: &str| std::fs::write(room.path().join(name), text).unwrap();
    save("board.csv", BOARD);
    save("house.csv", "1820-1199,74LS04\n");
    save("stays.txt", "27C128\ntransistor\n");

    let (status, text, _) = run(room.path(), &["board.csv"]);
    assert_eq!(status, Some(2), "{text}");
    assert!(text.contains("`1820-1199` is no part of the library"), "{text}");

    let all = ["board.csv", "--house-numbers", "house.csv", "--stays", "stays.txt", "--printed-supplies"];
    let (status, text, error) = run(room.path(), &[&all[..], &["--replace", "U1"]].concat());
    assert_eq!(status, Some(0), "{text}{error}");
    assert!(text.contains("0 errors") && text.contains("board: U1:"), "{text}");
    assert!(text.contains("contact U9-11    read") && text.contains("contact U9-12    driven"), "{text}");

    let (status, text, error) = run(room.path(), &[&all[..], &["--replace", "U1", "--json"]].concat());
    assert_eq!((status, error.as_str()), (Some(0), ""));
    assert!(text.contains("\"kind\": \"house_number\"") && text.contains("\"direction\": \"driven\""), "{text}");

    let (status, _, error) = run(room.path(), &[&all[..], &["--replace", "U7"]].concat());
    assert_eq!(status, Some(2));
    assert!(error.contains("no package `U7`"), "{error}");
    save("board.ipc", "999\n");
    let (status, _, error) = run(room.path(), &["board.ipc"]);
    assert_eq!(status, Some(2));
    assert!(error.contains("--parts"), "{error}");
}
