//! What is asked for is done or refused, and a page of an earlier run does not outlive a proof.
#![allow(clippy::expect_used, clippy::panic)] // a check stops at what it did not expect
use std::fs;
use std::process::{Command, Output};

fn card(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_sample_card")).args(arguments).output().expect("it starts")
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[test]
fn an_option_that_would_be_ignored_is_refused() {
    let room = tempfile::tempdir().expect("a folder");
    let out = room.path().to_str().expect("text");
    for (arguments, says) in [
        (&["--survey", "--device", "22V10"][..], "cannot be used with"),
        (&["--survey", "--package", "DIP-24"], "cannot be used with"),
        (&["--capture", "x.vcd", "--drawer", "d.csv"], "cannot be used with"),
        (&["--device", "CPLD-32", "--package", "PLCC-44", "--out", out], "it has no test vectors"),
        (&["--device", "CPLD-32", "--levels-only", "--out", out], "it has no test vectors"),
        (&["--device", "22V100", "--out", out], "there is no device `22V100` here"),
    ] {
        let output = card(arguments);
        let said = told(&output);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(says), "{arguments:?}: {said}");
    }
    assert_eq!(fs::read_dir(room.path()).expect("readable").count(), 0, "nothing is written");
}

#[test]
fn a_page_of_an_earlier_refutation_does_not_outlive_a_proof() {
    let room = tempfile::tempdir().expect("a folder");
    let page = room.path().join("why.html");
    let explain = ["--explain", page.to_str().expect("text"), "--without-vectors", "--out"];
    let out = room.path().to_str().expect("text");
    let refuted = Command::new(env!("CARGO_BIN_EXE_first_try"))
        .args(explain)
        .args([out, "--mend-effort", "0"])
        .output()
        .expect("it starts");
    assert_eq!(refuted.status.code(), Some(1), "{}", told(&refuted));
    assert!(fs::read_to_string(&page).expect("written").contains("is refuted"));
    let proved = card(&[&explain[..], &[out]].concat());
    assert_eq!(proved.status.code(), Some(0), "{}", told(&proved));
    let text = fs::read_to_string(&page).expect("there");
    assert!(!text.contains("<svg") && text.contains("Nothing is refuted"), "{text}");
}

/// IEEE 1149.1: an undriven TDI or TMS counts as high. A clock that stands still low is common practice, no source.
#[test]
fn the_inputs_of_a_programming_port_are_held_once_the_plug_is_gone() {
    let room = tempfile::tempdir().expect("a folder");
    let output = card(&["--device", "CPLD-32", "--out", room.path().to_str().expect("text")]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let page = fs::read_to_string(room.path().join("sample_card/report.html")).expect("written");
    for (pin, held) in [("TMS", "10 kΩ to VCC"), ("TDI", "10 kΩ to VCC"), ("TCK", "10 kΩ to GND")] {
        let line = page.split("<li>").find(|l| l.contains(&format!(" is {pin} of the programming port")));
        assert!(line.is_some_and(|l| l.contains(held)), "{pin}: {line:?}");
    }
    let text = page.replace("<code>report.html</code>", "");
    assert!(!text.contains("(report.html)"), "a page does not send its reader to itself");
}

#[test]
fn the_survey_says_that_a_loaded_clear_is_another_behaviour() {
    let said = told(&card(&["--survey"]));
    assert!(said.contains("another behaviour"), "{said}");
}
