//! The jury: random boards of packages, each with a replacement written by rewriting its logic, as it is or with a single
//! change, and the prover's verdict held against judges that share nothing with it: a walk through every state, a second
//! solver on the proof's obligations, and both circuits side by side in a simulator from outside.
//!
//! A sample runs by default. The whole runs in shards, which a test runner can spread over machines:
//! `cargo nextest run -p gluewright-tests --test checks jury:: --run-ignored only --partition count:1/4`. Another campaign:
//! `GLUEWRIGHT_SEED=2 cargo test -p gluewright-tests --test checks jury:: -- --ignored --nocapture`.
use std::collections::BTreeMap;
use std::time::Duration;

use gluewright::edit::edits;
use gluewright_tests::boards::{board, rewritten, trace};
use gluewright_tests::gates::Numbers;
use gluewright_tests::judge::{Bounds, Tally, judge};

const TIME: Duration = Duration::from_secs(3);

const BOUNDS: Bounds = Bounds { states: 3_000, depth: 8, time: TIME, whole: TIME, shortest: true, outside: (4, 1_000) };

/// For the sample that runs with every other test.
const SHORT: Bounds = Bounds { outside: (1, 300), ..BOUNDS };

fn seed() -> u64 {
    std::env::var("GLUEWRIGHT_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(1)
}

/// One board with its replacement, as it is and with a change.
fn case(number: u64, bounds: Bounds) -> (usize, Tally) {
    let mut n = Numbers(seed().wrapping_mul(7_919).wrapping_add(number).wrapping_mul(1_000_003));
    let packages = 3 + (number as usize * 7) % 18;
    let (text, original) = loop {
        let most_bits = 3 + n.below(7);
        let text = trace(&mut n, packages, most_bits);
        if let Some(circuit) = board(&text) {
            break (text, circuit);
        }
    };
    let replacement = rewritten(&mut n, &original);
    let what = |change: &str| format!("seed {}, board {number} of {packages} packages, {change}", seed());
    let mut tally = judge(&what("rewritten"), &original, &replacement, bounds);
    let all = edits(&replacement);
    if let Some(edit) = all.get(n.below(all.len())) {
        tally.add(judge(&what(edit.words()), &original, &edit.apply(&replacement), bounds));
    }
    if !tally.wrong.is_empty() {
        println!("{text}");
    }
    (packages, tally)
}

fn run(numbers: impl Iterator<Item = u64>, bounds: Bounds) -> Tally {
    let mut by_size: BTreeMap<usize, (usize, Tally)> = BTreeMap::new();
    let mut all = Tally::default();
    for number in numbers {
        let (packages, tally) = case(number, bounds);
        println!("board {number}: {}", tally.line());
        let size = by_size.entry(packages.div_ceil(5) * 5).or_default();
        size.0 += 1;
        size.1.add(tally.clone());
        all.add(tally);
    }
    for (size, (boards, tally)) in by_size {
        println!("{boards} boards of up to {size} packages: {}", tally.line());
    }
    println!("{all}");
    all
}

/// One of them once more, with `GLUEWRIGHT_BOARD=81`.
#[test]
#[ignore = "asks about a single board: see the line above"]
fn one_board() {
    let number = std::env::var("GLUEWRIGHT_BOARD").ok().and_then(|s| s.parse().ok()).unwrap_or(0);
    let tally = run(std::iter::once(number), BOUNDS);
    assert!(tally.wrong.is_empty(), "{tally}");
}

#[test]
fn a_sample_of_boards_is_judged_as_the_walk_judges() {
    let tally = run([0, 1, 18, 36, 54].into_iter(), SHORT);
    assert!(tally.wrong.is_empty(), "{tally}");
    assert!(tally.refuted > 0 && tally.equal > 0, "{tally}");
}

macro_rules! shards {
    ($($name:ident: $from:literal;)+) => {$(
        #[test]
        #[ignore = "a campaign: see the head of this file"]
        fn $name() {
            let tally = run($from..$from + 27, BOUNDS);
            assert!(tally.wrong.is_empty(), "{tally}");
        }
    )+};
}

shards! {
    boards_0_to_26: 0;
    boards_27_to_53: 27;
    boards_54_to_80: 54;
    boards_81_to_107: 81;
    boards_108_to_134: 108;
    boards_135_to_161: 135;
    boards_162_to_188: 162;
    boards_189_to_215: 189;
}
