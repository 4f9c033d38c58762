//! Every single change of a random circuit is refuted with a sequence that replays, or proved equal and found equal by
//! an exhaustive walk that shares nothing with the prover.
//!
//! A sample runs by default. The whole runs in shards, which a test runner can spread over machines:
//! `cargo nextest run -p gluewright-tests --test checks mutants:: --run-ignored only --partition count:1/4`. Another campaign:
//! `GLUEWRIGHT_SEED=2 cargo test -p gluewright-tests --test checks mutants:: -- --ignored --nocapture`.
use std::time::Duration;

use gluewright::circuit::{Circuit, Start};
use gluewright::edit::edits;
use gluewright_tests::circuits::{Recipe, drawn};
use gluewright_tests::gates::Numbers;
use gluewright_tests::judge::{Bounds, Tally, judge};

const TIME: Duration = Duration::from_secs(2);

const BOUNDS: Bounds = Bounds { states: 4_000, depth: 12, time: TIME, whole: TIME, shortest: true, outside: (0, 0) };

fn seed() -> u64 {
    std::env::var("GLUEWRIGHT_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(1)
}

/// One circuit, itself and some of its mutants: every one if there are no more than that.
fn campaign(number: u64, mutants: usize) -> Tally {
    let mut n = Numbers(seed().wrapping_mul(1_000_003).wrapping_add(number));
    let recipe = Recipe { elements: 3, inputs: 3, loops: number % 3 == 2, floats: number % 4 == 1, fed_back: false };
    let original = drawn(&mut n, recipe, "original");
    let mut replacement = original.clone();
    replacement.name = "replacement".to_owned();
    if number % 2 == 1 {
        for e in original.elements() {
            let id = original.find_element(&e.name).expect("its own");
            replacement.element_mut(id).expect("its own").start = Start::Low;
        }
    }
    let mut tally = ask(number, "as it is", &original, &replacement);
    let mut all = edits(&replacement);
    while all.len() > mutants {
        let k = n.below(all.len());
        all.swap_remove(k);
    }
    for edit in all {
        tally.add(ask(number, edit.words(), &original, &edit.apply(&replacement)));
    }
    tally
}

fn ask(number: u64, what: &str, original: &Circuit, replacement: &Circuit) -> Tally {
    judge(&format!("seed {}, circuit {number}, {what}", seed()), original, replacement, BOUNDS)
}

fn run(numbers: impl Iterator<Item = u64>, mutants: usize) -> Tally {
    let mut tally = Tally::default();
    for number in numbers {
        let one = campaign(number, mutants);
        println!("circuit {number}: {}", one.line());
        tally.add(one);
    }
    println!("{tally}");
    tally
}

#[test]
fn a_sample_of_mutants_is_judged_as_the_walk_judges() {
    let tally = run(100..108, 4);
    assert!(tally.wrong.is_empty(), "{tally}");
    assert!(tally.refuted > 10 && tally.equal > 2, "{tally}");
}

macro_rules! shards {
    ($($name:ident: $from:literal;)+) => {$(
        #[test]
        #[ignore = "a campaign: see the head of this file"]
        fn $name() {
            let tally = run($from..$from + 8, 40);
            assert!(tally.wrong.is_empty(), "{tally}");
        }
    )+};
}

shards! {
    mutants_of_circuits_0_to_7: 0;
    mutants_of_circuits_8_to_15: 8;
    mutants_of_circuits_16_to_23: 16;
    mutants_of_circuits_24_to_31: 24;
    mutants_of_circuits_32_to_39: 32;
}
