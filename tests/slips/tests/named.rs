//! How many slips of the pen a mend names, and how soon.
//!
//! `cargo test -p gluewright-slips --release --features whole -- --ignored --nocapture --test-threads 1` prints the tables for
//! all of them; without the feature, a fixed sample. `GLUEWRIGHT_SHARD=2/4` takes the second of four shares.
//! `GLUEWRIGHT_SAMPLE=2` draws two slips of each kind of each example, and six times as many pairs; `GLUEWRIGHT_SEED=7` draws
//! others; `GLUEWRIGHT_WORDS=…` takes only slips in whose words this stands. A search may take ten seconds by the clock; on a machine that does other work too, `GLUEWRIGHT_WITHIN=40` gives it
//! forty.
//!
//! A slip is named by a mend that changes nothing but the places which the slip changed. Mends with the same effect at the same
//! places count once. Mends of the source and of the trace are ranked by themselves.
mod idioms;

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::time::{Duration, Instant};

use gluewright::board::Board;
use gluewright::circuit::Circuit;
use gluewright::mend::{Mending, Mends, Place, Work};
use gluewright::prelude::*;
use gluewright_slips::cards::{CARDS, Card};
use gluewright_slips::places::{differing, places};
use gluewright_slips::{SLIPS, Slip, trace};

/// What came of one slip.
struct Tried {
    kind: String,
    example: &'static str,
    words: String,
    /// From 1; nothing if no mend names it.
    rank: Option<usize>,
    mends: Mends,
    time: Time,
}

/// How long a search took: by the clock, and of the processor, which other work on the machine does not lengthen.
#[derive(Clone, Copy)]
struct Time {
    clock: Duration,
    processor: Duration,
}

/// The time that the processor has given to this process so far, by what Linux tells of it in hundredths of a second; by the
/// clock on other systems.
fn processor(began: Instant) -> Duration {
    let told = std::fs::read_to_string("/proc/self/stat").ok();
    // proc_pid_stat(5): utime and stime are the 14th and 15th field, the 2nd stands in brackets
    let fields =
        told.as_deref().and_then(|t| t.rsplit_once(')')).map(|(_, rest)| rest.split_whitespace().skip(11).take(2));
    let ticks = fields.map(|f| f.filter_map(|n| n.parse::<u64>().ok()).sum::<u64>());
    ticks.map_or_else(|| began.elapsed(), |n| Duration::from_millis(10 * n))
}

/// Where the first mend stands, of one place, that changes nothing but what the slip changed.
fn rank(mends: &Mends, place: Place, right: &Circuit, wrong: &Circuit) -> Option<usize> {
    let (right, wrong) = (places(right), places(wrong));
    let slipped = differing(&right, &wrong);
    let mut effects: HashSet<Vec<(String, u64)>> = HashSet::new();
    for mend in mends.found.iter().filter(|m| m.place == place) {
        let mended = places(&mend.circuit);
        effects.insert(mended.clone().into_iter().collect());
        if differing(&right, &mended).is_subset(&slipped) {
            return Some(effects.len());
        }
    }
    None
}

fn mends(failure: Result<gluewright::prove::Proof, Failure>, board: &Board, work: Work) -> Option<(Mends, Time)> {
    let Err(Failure::Refuted(r)) = failure else { return None };
    let began = Instant::now();
    let before = processor(began);
    let mends = r.mend_with_trace(board, work);
    Some((mends, Time { clock: began.elapsed(), processor: processor(began).saturating_sub(before) }))
}

/// The share of a campaign that this run takes: which, of how many.
fn share() -> (usize, usize) {
    let Ok(said) = std::env::var("GLUEWRIGHT_SHARD") else { return (1, 1) };
    let numbers = said.split_once('/').and_then(|(k, of)| Some((k.parse().ok()?, of.parse().ok()?)));
    numbers.filter(|&(k, of)| (1..=of).contains(&k)).unwrap_or_else(|| panic!("GLUEWRIGHT_SHARD is no share: {said}"))
}

/// This run's share of them, each with a line of progress before it: the share and the number it has.
fn shared<T>(all: Vec<T>) -> impl Iterator<Item = T> {
    let ((k, of), began) = (share(), Instant::now());
    let mine: Vec<T> = all.into_iter().skip(k - 1).step_by(of).collect();
    let count = mine.len();
    mine.into_iter().enumerate().map(move |(n, slip)| {
        if n % 10 == 0 {
            println!("[{n} of {count}, {:.0} s]", began.elapsed().as_secs_f64());
        }
        slip
    })
}

/// A number that the environment gives.
fn given(name: &str) -> Option<usize> {
    let said = std::env::var(name).ok()?;
    Some(said.parse().unwrap_or_else(|_| panic!("{name} is no number: {said}")))
}

/// A number of each group, drawn alike on every machine; all of them, if no number is given.
fn drawn<T, K: Ord>(all: Vec<T>, group: impl Fn(&T) -> K, most: impl Fn(&T) -> usize) -> Vec<T> {
    if given("GLUEWRIGHT_SAMPLE").is_none() {
        return all;
    }
    let seed = given("GLUEWRIGHT_SEED").unwrap_or(1984) as u64;
    // splitmix64 (Steele, Lea and Flood, 2014)
    let number = |k: usize| {
        let mut z = seed.wrapping_add((k as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15));
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    };
    let mut order: Vec<(u64, usize, T)> = all.into_iter().enumerate().map(|(k, of)| (number(k), k, of)).collect();
    order.sort_by_key(|&(drawn, ..)| drawn);
    let mut taken: BTreeMap<K, usize> = BTreeMap::new();
    order.retain(|(.., of)| {
        let count = taken.entry(group(of)).or_default();
        *count += 1;
        *count <= most(of)
    });
    order.sort_by_key(|&(_, k, _)| k);
    order.into_iter().map(|(.., of)| of).collect()
}

/// Slips of one kind in one example, if a sample is drawn.
fn sample() -> usize {
    given("GLUEWRIGHT_SAMPLE").unwrap_or(usize::MAX)
}

/// Pairs of one example that are drawn for each slip of a kind.
const PAIRS: usize = 6;

/// The usual work; on a busy machine, with so many seconds for it by the clock.
fn usual() -> Work {
    given("GLUEWRIGHT_WITHIN").map_or_else(Work::usual, |s| Work::usual().within(Duration::from_secs(s as u64)))
}

/// The slips of the sources that are refuted.
fn sources(only: impl Fn(&Slip) -> bool, work: Work) -> Vec<Tried> {
    let mut all = Vec::new();
    let most = |slip: &&Slip| sample().saturating_mul(if is_pair(slip) { PAIRS } else { 1 });
    let words = std::env::var("GLUEWRIGHT_WORDS").unwrap_or_default();
    let slips =
        drawn(SLIPS.iter().filter(|s| only(s) && s.words.contains(&words)).collect(), |s| (s.kind, s.example), most);
    for slip in shared(slips) {
        let card = Card::named(slip.example);
        let board = card.read(card.trace).expect("a sound trace");
        let Some(wrong) = (slip.build)() else { continue };
        let Some((mends, time)) = mends((slip.run)(&board), &board, work) else { continue };
        let rank = rank(&mends, Place::Replacement, &(card.build)(), &wrong);
        all.push(Tried {
            kind: slip.kind.to_owned(),
            example: slip.example,
            words: slip.words.to_owned(),
            rank,
            mends,
            time,
        });
        tell(all.last());
    }
    all
}

/// The slips of the traces that are refuted; so many of each kind of each card.
fn traces(most: usize) -> Vec<Tried> {
    let mut slips: Vec<(&Card, trace::TraceSlip)> = Vec::new();
    for card in &CARDS {
        let mut by_kind: BTreeMap<&str, Vec<trace::TraceSlip>> = BTreeMap::new();
        for slip in trace::slips(card.trace) {
            by_kind.entry(slip.kind).or_default().push(slip);
        }
        for of in by_kind.into_values() {
            let step = (of.len() / most).max(1);
            slips.extend(of.into_iter().step_by(step).take(most).map(|slip| (card, slip)));
        }
    }
    let slips = drawn(slips, |(card, slip)| (card.name, slip.kind), |_| sample());
    let mut all = Vec::new();
    for (card, slip) in shared(slips) {
        let right = card.read(card.trace).expect("a sound trace").circuit().expect("it builds");
        let Some(board) = card.read(&slip.text).ok() else { continue };
        let Ok(wrong) = board.circuit() else { continue };
        let Some((mends, time)) = mends((card.run)(&board), &board, usual()) else { continue };
        let rank = rank(&mends, Place::Trace, &right, &wrong);
        let kind = format!("trace: {}", slip.kind);
        all.push(Tried { kind, example: card.name, words: slip.words, rank, mends, time });
        tell(all.last());
    }
    all
}

/// What a mend that is not the first says instead.
fn tell(tried: Option<&Tried>) {
    let Some(t) = tried.filter(|t| t.rank != Some(1)) else { return };
    let rank = t.rank.map_or_else(|| "not named".to_owned(), |n| format!("named as {n}"));
    let cut = if t.mends.cut_short { ", cut short" } else { "" };
    println!(
        "{}, {}, {rank} ({:.1} s, {} open{cut}): {}",
        t.example,
        t.kind,
        t.time.clock.as_secs_f64(),
        t.mends.undecided,
        t.words
    );
    for mend in t.mends.found.iter().take(4) {
        println!("      {:?}: {mend}", mend.place);
    }
    for part in t.mends.parts().iter().take(4) {
        println!("      {part}");
    }
}

fn percent(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

fn at(times: &[Duration], share: f64) -> f64 {
    let k = ((times.len() as f64 * share) as usize).min(times.len().saturating_sub(1));
    times.get(k).map_or(0.0, Duration::as_secs_f64)
}

/// By kind: how many there are, named first, among the first three, not at all; seconds by the clock and of the processor, median
/// and 95 %.
fn table(all: &[Tried]) -> String {
    let mut out = format!(
        "{:36} {:>5} {:>6} {:>6} {:>6} {:>7} {:>7} {:>9} {:>7}\n",
        "kind", "slips", "first", "three", "none", "median", "95 %", "processor", "95 %"
    );
    let mut line = |kind: &str, of: Vec<&Tried>| {
        let among = |n: usize| of.iter().filter(|t| t.rank.is_some_and(|r| r <= n)).count();
        let sorted = |time: fn(&Time) -> Duration| {
            let mut times: Vec<Duration> = of.iter().map(|t| time(&t.time)).collect();
            times.sort_unstable();
            times
        };
        let (times, processor) = (sorted(|t| t.clock), sorted(|t| t.processor));
        out += &format!(
            "{kind:36} {:5} {:5.0}% {:5.0}% {:6} {:6.2}s {:6.2}s {:8.2}s {:6.2}s\n",
            of.len(),
            percent(among(1), of.len()),
            percent(among(3), of.len()),
            of.iter().filter(|t| t.rank.is_none()).count(),
            at(&times, 0.5),
            at(&times, 0.95),
            at(&processor, 0.5),
            at(&processor, 0.95)
        );
    };
    let kinds: BTreeSet<&str> = all.iter().map(|t| t.kind.as_str()).collect();
    for kind in kinds {
        line(kind, all.iter().filter(|t| t.kind == kind).collect());
    }
    for example in CARDS.iter().map(|c| c.name) {
        line(example, all.iter().filter(|t| t.example == example).collect());
    }
    line("all", all.iter().collect());
    out
}

/// What is counted besides: how often the time was over before all had been tried, and what was left undecided.
fn left(all: &[Tried]) -> String {
    let cut = all.iter().filter(|t| t.mends.cut_short).count();
    let open = all.iter().filter(|t| t.mends.undecided > 0).count();
    format!("{cut} of {} cut short, {open} with changes left undecided\n", all.len())
}

fn is_pair(slip: &Slip) -> bool {
    slip.kind.starts_with("two slips")
}

fn first(all: &[Tried]) -> f64 {
    percent(all.iter().filter(|t| t.rank == Some(1)).count(), all.len())
}

#[test]
fn a_slip_that_changes_no_place_is_proved() {
    for slip in &SLIPS {
        let right = places(&(Card::named(slip.example).build)());
        let Some(wrong) = (slip.build)() else { continue };
        assert!(differing(&right, &right).is_empty());
        if differing(&right, &places(&wrong)).is_empty() {
            let card = Card::named(slip.example);
            let answer = (slip.run)(&card.read(card.trace).expect("a sound trace"));
            assert!(answer.is_ok(), "{}: {}", slip.example, slip.words);
        }
    }
}

#[test]
fn what_is_right_is_proved() {
    for card in &CARDS {
        (card.run)(&card.read(card.trace).expect("a sound trace")).expect("the example");
    }
}

/// The sample is the same on every machine; the whole is measured by the command above.
#[test]
#[ignore = "it takes minutes"]
fn most_of_a_fixed_sample_are_named() {
    // bounded by work, not by the clock of a busy machine
    let patient = Work::usual().within(Duration::from_secs(60));
    let all = sources(|slip| !is_pair(slip) && slip.example == CARDS[0].name, patient);
    println!("{}", table(&all));
    assert!(all.len() > 15 && first(&all) >= 60.0, "{}", table(&all));
}

#[test]
#[ignore = "it takes minutes"]
fn single_slips_of_the_sources() {
    let all = sources(|slip| !is_pair(slip), usual());
    println!("{}{}", table(&all), left(&all));
}

#[test]
#[ignore = "it takes minutes"]
fn single_slips_of_the_traces() {
    let all = traces(12);
    println!("{}{}", table(&all), left(&all));
}

#[test]
#[ignore = "it takes minutes"]
fn two_slips_at_any_lines() {
    let all = sources(|slip| is_pair(slip) && slip.kind.ends_with("any lines"), usual());
    println!("{}{}", table(&all), left(&all));
}

#[test]
#[ignore = "it takes minutes"]
fn two_slips_in_different_cones() {
    let all = sources(|slip| slip.kind.ends_with("different cones"), usual());
    println!("{}{}", table(&all), left(&all));
}
