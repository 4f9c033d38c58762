//! Wirings that compile and can't be right: each is an error with its line and its mend, and none panics.
use std::cell::Cell;

use gluewright::prelude::*;
use gluewright::{Mistake, Wiring};

/// What the build says, one mistake a line, with the file's name taken off.
#[track_caller]
fn complaints<C: Wiring>() -> Vec<String> {
    let error = gluewright::circuit_of::<C>().unwrap_err();
    let text = error.to_string();
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some(format!("`{}` can't be built", error.circuit()).as_str()));
    let lines: Vec<String> = lines.map(|l| l.rsplit_once("mistakes.rs:").unwrap().1.to_owned()).collect();
    assert_eq!(lines.len(), error.mistakes().len());
    lines
}

/// The line of this file that holds the marker.
fn line(marker: &str) -> usize {
    include_str!("mistakes.rs").lines().position(|l| l.ends_with(marker)).unwrap() + 1
}

#[derive(Circuit)]
struct Silent {
    #[contact(1)]
    a: Input<Data>,
    #[contact(2, 3)]
    y: [Output<Data, ThreeState>; 2],
    #[contact(4)]
    z: InOut<Data>,
}

impl Wiring for Silent {
    fn wire(&self) -> SilentWiring {
        let (level, always) = (self.a.level(), Assertion::ALWAYS);
        SilentWiring {
            y: [
                follow(level).drive_while(always),
                follow(level), // never drives
            ],
            z: follow(level).drive_while(always).drive_while(always), // drives twice
        }
    }
}

#[test]
fn a_three_state_output_is_told_once_when_it_drives() {
    assert_eq!(
        complaints::<Silent>(),
        [
            format!(
                "{}: three-state output `y[1]` is never told when it drives: add drive_while(…)",
                line("// never drives")
            ),
            format!(
                "{}: `z` is told more than once when it drives: join the conditions in one drive_while(…)",
                line("// drives twice")
            ),
        ]
    );
}

#[derive(Circuit)]
struct Held {
    #[contact(1)]
    a: Input<ActiveHigh>,
    #[contact(2)]
    cleared: Output<Data>,
    #[contact(3)]
    started: Output<ActiveLow>,
    #[contact(4)]
    twice: Output<Data>,
}

impl Wiring for Held {
    fn wire(&self) -> HeldWiring {
        let a = self.a.asserted();
        HeldWiring {
            cleared: follow(self.a.level()).clear_while(a),
            started: assert_while(a).starts_released(),
            twice: on(a.begins()).toggle().starts_low().starts_high(),
        }
    }
}

#[test]
fn a_gate_holds_nothing() {
    let mend = "join the condition to what it follows, or define it with on(…).load(…) or open_while(…).follow(…)";
    let complaints = complaints::<Held>();
    assert!(
        complaints[0].contains("`cleared` is a gate and holds nothing, so it has no clear_while"),
        "{complaints:?}"
    );
    assert!(complaints[0].ends_with(mend), "{complaints:?}");
    assert!(complaints[1].contains("so it has no starts_released"), "{complaints:?}");
    assert!(complaints[2].ends_with("`twice` is told more than once how it starts: keep one"), "{complaints:?}");
}

thread_local! {
    static KEPT: Cell<Option<(Assertion, Input<ActiveHigh>)>> = const { Cell::new(None) };
}

/// Keeps its signals, and uses those that another build kept.
#[derive(Circuit)]
struct Keeps {
    #[contact(1)]
    a: Input<ActiveHigh>,
    #[contact(2)]
    y: Output<ActiveHigh>,
    #[contact(3)]
    z: Output<Data>,
    #[contact(4)]
    w: Output<Data>,
}

impl Wiring for Keeps {
    fn wire(&self) -> KeepsWiring {
        let a = self.a.asserted();
        let (kept, field) = KEPT.replace(Some((a, self.a))).unwrap_or((a, self.a));
        let word = Word::of([high_while(kept), self.a.level()]);
        KeepsWiring {
            y: assert_while(kept),             // foreign definition
            z: follow(field.level()),          // foreign field
            w: follow(high_while(word.is(3))), // foreign word
        }
    }
}

#[test]
fn signals_of_another_build_are_found_where_they_are_used() {
    KEPT.set(None);
    assert!(gluewright::circuit_of::<Keeps>().is_ok());
    let said = "a signal of another build is used here: take it from `self`, signals can't be kept between builds";
    let mut complaints = complaints::<Keeps>();
    complaints.sort();
    assert_eq!(
        complaints,
        ["// foreign definition", "// foreign field", "// foreign word"].map(|m| format!("{}: {said}", line(m)))
    );
}

#[test]
fn signals_outside_a_build_do_no_harm() {
    KEPT.set(None);
    let _ = gluewright::circuit_of::<Keeps>();
    let (a, field) = KEPT.get().unwrap();
    let orphan = !(a & field.asserted());
    let (word, bit) = (Word::of([field.level()]), Level::HIGH);
    let _ = (orphan.begins(), word.plus_one().pick([bit, !bit]), word.is(9), word[5]);
    KEPT.set(Some((orphan, field)));
    let error = gluewright::circuit_of::<Keeps>().unwrap_err();
    assert!(error.mistakes().iter().all(|m| matches!(m, Mistake::ForeignSignal { .. })), "{error}");
}

#[derive(Circuit)]
struct Numbers {
    #[contact(1..=4)]
    a: [Input<Data>; 4],
    #[contact(5..=7)]
    y: [Output<ActiveLow>; 3],
    #[contact(8)]
    z: Output<Data>,
}

impl Wiring for Numbers {
    fn wire(&self) -> NumbersWiring {
        let a = Word::of(self.a);
        NumbersWiring {
            y: [
                assert_while(a.is(16)),                         // 16 in 4
                assert_while(a.equals(Word::number(u64::MAX))), // all in 4
                assert_while(a[4].is_high()),                   // no bit 4
            ],
            z: follow(a.pick([Level::HIGH; 3])), // 3 of 16
        }
    }
}

#[test]
fn numbers_and_bits_must_fit() {
    assert_eq!(
        complaints::<Numbers>(),
        [
            format!("{}: 16 does not fit in 4 bits", line("// 16 in 4")),
            format!("{}: {} does not fit in 4 bits", line("// all in 4"), u64::MAX),
            format!("{}: there is no bit 4 in a word of 4 bits, they are counted from 0", line("// no bit 4")),
            format!("{}: an address of 4 bits picks one of 2 to the power of 4, but 3 are given", line("// 3 of 16")),
        ]
    );
}
