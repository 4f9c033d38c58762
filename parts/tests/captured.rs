//! Unknown packages narrowed by captures: the nets around one are drawn, and the types that could not have done it go.
#![allow(clippy::unwrap_used, clippy::panic, reason = "the board is that of this test")]
use std::fmt::Write;
use std::time::Duration;

use gluewright::board::{Behaviour, Library, PinRole};
use gluewright::capture::{Channels, SKEW};
use gluewright::circuit::Label;
use gluewright::continuity::{Parts, Readings, Study, study};
use gluewright::simulate::{Shown, Simulator};
use gluewright_parts::ttl;

/// A synchronous counter's pins: four types share them.
const COUNTERS: [&str; 4] = ["74LS160", "74LS161", "74LS162", "74LS163"];

/// An unknown package of 16 pins, each of its pins on a contact, with rails as most have them.
fn met() -> Study {
    let parts = Parts::from_csv("parts.csv", "ref,part,pins\nJ1,contacts,16\nU1,unknown,16\n", ttl()).unwrap();
    let mut rows = "from,to,ohms\nU1.8,GND,0\nU1.16,VCC,0\n".to_owned();
    for pin in (1..=16).filter(|pin| ![8, 16].contains(pin)) {
        let _ = writeln!(rows, "U1.{pin},J1.{pin},0.2");
    }
    study(&Readings::from_csv("continuity.csv", rows, parts).unwrap(), ttl())
}

/// What an analyser sees at the pins of this type while the board does what is drawn: one change in a microsecond.
fn capture(part: &str, left_out: &[u16]) -> String {
    let part = ttl().part(part).unwrap();
    let pins: Vec<&Label> =
        part.pins().filter(|(_, role)| !matches!(role, PinRole::Supply(_))).map(|(l, _)| l).collect();
    let inputs: Vec<&Label> = part.pins().filter(|(_, role)| *role == PinRole::Input).map(|(l, _)| l).collect();
    let seen: Vec<&&Label> = pins.iter().filter(|l| !left_out.iter().any(|pin| Label::from(*pin) == ***l)).collect();
    let mut levels: Vec<(Label, bool)> = inputs.iter().map(|&l| (l.clone(), true)).collect();
    let (mut run, _) = Simulator::new(part.circuit(), &levels, |cell, _| cell % 2 == 0).unwrap();
    let mut text = "time (ns)".to_owned();
    text += &seen.iter().map(|l| format!(",U1.{l}")).collect::<String>();
    let mut numbers = 1984u64;
    for moment in 0..400u32 {
        let _ = write!(text, "\n{}", moment * 1000);
        for &&label in &seen {
            let given = levels.iter().find(|(l, _)| l == label).map(|&(_, high)| high);
            let high = given.unwrap_or_else(|| run.shown(label, 0).unwrap() == Shown::High);
            let _ = write!(text, ",{}", u8::from(high));
        }
        numbers = numbers.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        // the clock, pin 2, every other time; clear and load seldom for long
        let drawn = (numbers >> 33) as usize;
        let clock = levels.iter().position(|(l, _)| *l == Label::from(2)).unwrap();
        let low = levels.iter().position(|(l, high)| !high && [1, 9].map(Label::from).contains(l));
        let at = if moment.is_multiple_of(2) {
            clock
        } else {
            low.filter(|_| !drawn.is_multiple_of(3)).unwrap_or(drawn / 3 % levels.len())
        };
        levels[at].1 = !levels[at].1;
        let _ = run.event(&[levels[at].clone()]).unwrap();
    }
    text + "\n"
}

fn narrowed(capture: &str) -> (Vec<String>, Vec<String>) {
    let mut study = met();
    study
        .narrowed_by("run.csv", capture.as_bytes(), &Channels::by_name(), SKEW, ttl())
        .unwrap_or_else(|e| panic!("{e}"));
    let unknown = study.narrowed.first().unwrap();
    (unknown.types.clone(), unknown.excluded.clone())
}

#[test]
fn only_types_that_could_have_done_what_was_captured_are_left() {
    let joints = met().narrowed.first().unwrap().types.clone();
    for truth in COUNTERS {
        let (left, excluded) = narrowed(&capture(truth, &[]));
        assert_eq!(left.len() + excluded.len(), joints.len());
        assert!(left.iter().any(|t| t == truth), "{truth} of {left:?}");
        for other in COUNTERS.iter().filter(|other| **other != truth) {
            assert!(excluded.iter().any(|t| t == other), "{truth} is no {other}: {left:?}");
        }
        // a memory whose contents nobody knows, and what is no logic, may have done anything
        let is_logic = |t: &&String| ttl().part(t).is_some_and(|part| *part.behaviour() == Behaviour::Logic);
        let logic: Vec<&String> = left.iter().filter(is_logic).collect();
        assert!(8 * logic.len() < joints.len(), "{truth}: {logic:?} of {joints:?}");
    }
}

/// A pin that nobody captured may do anything at any time: what hangs on it says nothing, and what does not says all.
#[test]
fn what_hangs_on_a_pin_without_a_channel_excludes_nothing() {
    for pin in [1, 2, 9] {
        let (left, _) = narrowed(&capture("74LS163", &[pin]));
        assert!(COUNTERS.iter().all(|c| left.iter().any(|t| t == c)), "every output hangs on pin {pin}: {left:?}");
    }
    let (left, excluded) = narrowed(&capture("74LS157", &[2]));
    assert!(left.iter().any(|t| t == "74LS157"), "{left:?}");
    assert!(excluded.iter().any(|t| t == "74LS158"), "three of its four outputs were seen: {left:?}");
}

#[test]
fn one_level_that_it_would_not_show_excludes_a_type() {
    let right = capture("74LS161", &[]);
    let mut rows: Vec<String> = right.lines().map(str::to_owned).collect();
    // in the last row the carry is the other way round
    let head: Vec<&str> = right.lines().next().unwrap().split(',').collect();
    let carry = head.iter().position(|name| *name == "U1.15").unwrap();
    let last = rows.last_mut().unwrap();
    let mut fields: Vec<&str> = last.split(',').collect();
    fields[carry] = if fields[carry] == "1" { "0" } else { "1" };
    *last = fields.join(",");
    let (_, excluded) = narrowed(&(rows.join("\n") + "\n"));
    assert!(excluded.iter().any(|t| t == "74LS161"), "{excluded:?}");
    let wrong = met().narrowed_by("run.csv", "no capture".as_bytes(), &Channels::by_name(), Duration::ZERO, ttl());
    assert!(wrong.is_err());
}
