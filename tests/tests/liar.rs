//! A prover that ignores counterexamples, on drawn boards with a slip in the trace: the checker must object to every claim
//! that it makes of a refuted pair, and to none that an honest prover makes of the board as it is.
//!
//! A sample runs by default; `cargo test -p gluewright-tests --test checks liar:: -- --ignored --nocapture` asks about 200 refuted
//! pairs and prints the table. `GLUEWRIGHT_SEED=2` draws another campaign.
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use gluewright::prove::{Failure, Method, Proof, Question};
use gluewright_kernel::solver::Effort;
use gluewright_tests::boards::{board, trace};
use gluewright_tests::checked::judged;
use gluewright_tests::gates::Numbers;

fn seed() -> u64 {
    std::env::var("GLUEWRIGHT_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(1)
}

/// A slip: two inputs of the trace exchanged, or one on another net, or a gate of another type.
fn slipped(n: &mut Numbers, text: &str) -> String {
    let mut rows: Vec<Vec<String>> = text.lines().map(|l| l.split(',').map(str::to_owned).collect()).collect();
    let logic: Vec<usize> =
        (1..rows.len()).filter(|&r| rows[r][0].starts_with('U') && !["VCC", "GND"].contains(&&*rows[r][3])).collect();
    let (a, b) = (logic[n.below(logic.len())], logic[n.below(logic.len())]);
    match n.below(3) {
        0 => {
            let net = rows[b][3].clone();
            rows[a][3] = net;
        }
        1 => {
            let (x, y) = (rows[a][3].clone(), rows[b][3].clone());
            (rows[a][3], rows[b][3]) = (y, x);
        }
        _ => {
            const SAME_PINS: [(&str, &str); 6] = [
                ("74LS00", "74LS08"),
                ("74LS08", "74LS32"),
                ("74LS32", "74LS86"),
                ("74LS86", "74LS00"),
                ("74LS374", "74LS373"),
                ("74LS373", "74LS374"),
            ];
            let reference = rows[a][0].clone();
            if let Some((_, other)) = SAME_PINS.iter().find(|(t, _)| *t == rows[a][1]) {
                rows.iter_mut().filter(|r| r[0] == reference).for_each(|r| r[1] = (*other).to_owned());
            }
        }
    }
    rows.into_iter().map(|r| r.join(",")).collect::<Vec<_>>().join("\n") + "\n"
}

fn question(original: &str, replacement: &str) -> Option<Question> {
    let effort = Effort { milliseconds: 2_000, ..Effort::default() };
    let question = Question::new(board(original)?, board(replacement)?);
    Some(question.settled_only().within(effort).in_time(Duration::from_secs(6)).to_depth(12).walking(1 << 14))
}

#[derive(Default)]
struct Table {
    refuted: usize,
    /// Claims of the liar, by method, and what was objected to first.
    claims: BTreeMap<&'static str, usize>,
    objections: BTreeMap<String, usize>,
    silent: Vec<u64>,
    honest: usize,
    /// Honest proofs of parts by themselves, of which there is no proof of the whole.
    apart: usize,
    wronged: Vec<String>,
    prover: Duration,
    checker: Duration,
}

/// The kind of an objection: what follows the event's name.
fn kind(objection: &str) -> String {
    let after = objection.split(": ").nth(1).unwrap_or(objection);
    let words = [
        "the relation is not kept",
        "shows another sequence",
        "shows another level",
        "does not come to rest",
        "not settled",
        "combinations",
        "leads nowhere",
        "no place of the table",
    ];
    words.iter().find(|w| after.contains(*w)).map_or_else(|| objection.to_owned(), |w| (*w).to_owned())
}

fn is_apart(proof: &Proof) -> bool {
    proof.parts.iter().any(|part| matches!(part.method, Method::Walk { .. }))
}

fn method(proof: &Proof) -> &'static str {
    if is_apart(proof) {
        return "parts, some by walk";
    }
    match proof.method {
        Method::Induction => "induction",
        Method::Walk { .. } => "walk",
    }
}

/// Board after board, until so many pairs are refuted or the boards are through.
fn campaign(pairs: usize, numbers: impl Iterator<Item = u64>) -> Table {
    let mut table = Table::default();
    for number in numbers {
        if table.refuted >= pairs {
            break;
        }
        let mut n = Numbers(seed().wrapping_mul(9_176).wrapping_add(number).wrapping_mul(1_000_003));
        let packages = 3 + n.below(6);
        let most_bits = 2 + n.below(5);
        let original = trace(&mut n, packages, most_bits);
        let changed = slipped(&mut n, &original);
        let (Some(same), Some(other)) = (question(&original, &original), question(&original, &changed)) else {
            continue;
        };
        let began = Instant::now();
        if let Ok(proof) = same.ask() {
            table.prover += began.elapsed();
            let began = Instant::now();
            let verdict = judged(&proof, &original, &original);
            table.checker += began.elapsed();
            table.honest += 1;
            table.apart += usize::from(is_apart(&proof));
            if !verdict.stands() {
                let why = verdict.objections.join("; ");
                println!("board {number} by {}: {why}\n{original}", method(&proof));
                table.wronged.push(format!("board {number} by {}: {why}", method(&proof)));
            }
        }
        if !matches!(other.ask(), Err(Failure::Refuted(_))) {
            continue;
        }
        // a liar that finds no claim to make is no test
        let Ok(claim) = other.ask_a_liar() else { continue };
        table.refuted += 1;
        *table.claims.entry(method(&claim)).or_default() += 1;
        let verdict = judged(&claim, &original, &changed);
        if let Some(odd) = verdict.objections.iter().find(|o| o.contains("certificate's")) {
            println!("board {number}: {odd}\n{original}\n{changed}");
        }
        match verdict.objections.first() {
            Some(objection) => *table.objections.entry(kind(objection)).or_default() += 1,
            None => table.silent.push(number),
        }
    }
    println!(
        "seed {}: {} refuted pairs, the liar's claims by method {:?}; first objections {:?}; silent on {:?}",
        seed(),
        table.refuted,
        table.claims,
        table.objections,
        table.silent
    );
    println!(
        "honest proofs of the boards as they are: {} ({} of them part by part), objected to {}; prover {:.1} s, checker {:.1} s",
        table.honest,
        table.apart,
        table.wronged.len(),
        table.prover.as_secs_f64(),
        table.checker.as_secs_f64()
    );
    for w in &table.wronged {
        println!("{w}");
    }
    table
}

fn sound(table: &Table) {
    assert!(table.silent.is_empty(), "the checker did not object to a lie about boards {:?}", table.silent);
    assert!(table.wronged.is_empty(), "the checker objected to {} honest proofs", table.wronged.len());
}

#[test]
fn a_sample_of_lies_is_objected_to() {
    sound(&campaign(8, 1..));
}

#[test]
#[ignore = "200 pairs: minutes"]
fn every_lie_of_the_campaign_is_objected_to() {
    sound(&campaign(200, 1..));
}

/// Walks whose states hold bits on which nothing hangs, or leave out contacts that nothing reads by its function.
#[test]
fn idle_bits_of_a_walk_are_no_objection() {
    let table = campaign(usize::MAX, [61, 101, 157, 214].into_iter());
    assert!(table.wronged.is_empty() && table.honest > 2, "{:?}", table.wronged);
}

/// A counter that clears itself needs more phases to come to rest than are followed at first: till then it matches nothing.
#[test]
fn what_has_not_come_to_rest_yet_is_no_objection() {
    let table = campaign(usize::MAX, std::iter::once(809));
    assert!(table.wronged.is_empty() && table.honest == 1, "{:?}", table.wronged);
}

/// Some of them once more, with `GLUEWRIGHT_BOARDS=101,222`.
#[test]
#[ignore = "asks about single boards: see the line above"]
fn these_boards() {
    let numbers = std::env::var("GLUEWRIGHT_BOARDS").unwrap_or_default();
    let table = campaign(usize::MAX, numbers.split(',').filter_map(|n| n.parse().ok()));
    assert!(table.silent.is_empty() && table.wronged.is_empty(), "{:?} {:?}", table.silent, table.wronged);
}
