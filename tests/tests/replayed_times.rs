//! Every time that an original is shown to take, done again in a simulator from outside by the run that comes with it; and
//! that with delays drawn within the figures nothing comes later than the bounds.
#![allow(clippy::unwrap_used, reason = "boards are those of this file")]
use gluewright::board::Board;
use gluewright::circuit::Label;
use gluewright::figures::{Change, PartFigures};
use gluewright::timing::{Edge, Kind, Row, Timing, original, together};
use gluewright_parts::ttl;
use gluewright_tests::delays::{Seen, longest, play};
use gluewright_tests::gates::Numbers;
use gluewright_tests::icarus::is_there;

const EXAMPLES: [(&str, &str); 4] = [
    ("sample_card.csv", include_str!("../../examples/src/sample_card.csv")),
    ("loom_bridge.csv", include_str!("../../examples/src/loom_bridge.csv")),
    ("organ_memory.csv", include_str!("../../examples/src/organ_memory.csv")),
    ("organ_pistons.csv", include_str!("../../examples/src/organ_pistons.csv")),
];

fn board(name: &str, trace: &str) -> Board {
    Board::from_csv(name, trace, ttl()).unwrap()
}

/// The wires that a path comes over, by part and pin, with the time at which each changes.
fn stations(row: &Row) -> Vec<(String, f64)> {
    let mut ns = 0.0;
    let mut all = Vec::new();
    for step in &row.time.path {
        ns += step.ns.unwrap_or(0.0);
        // `U3 (74LS109) pin 12 to 9`, and of what samples `U3 (74LS109) pin 9 before pin 11`
        let words: Vec<&str> = step.through.split_whitespace().collect();
        if let [reference, .., "to", pin] = words[..] {
            all.push((format!("{reference}-{pin}"), ns));
        }
    }
    all
}

/// Why a run does not show what the row says, if it doesn't.
fn objection(row: &Row, seen: &Seen) -> Option<String> {
    let last = row.witness?.event;
    // of what samples, the path is that of an earlier event
    let event = match row.kind {
        Kind::Setup | Kind::Recovery | Kind::Hold => last.checked_sub(1)?,
        Kind::Period if row.from_edge == row.to_edge => last.checked_sub(2)?,
        Kind::Period => last.checked_sub(1)?,
        _ => last,
    };
    let changes = seen.events.get(event)?;
    for (wire, ns) in stations(row) {
        let all = changes.get(&wire).map_or(&[][..], |c| c);
        if !matches!(all, [(at, _)] if (at - ns).abs() < 0.01) {
            return Some(format!("{wire} at {ns} ns: {all:?}"));
        }
    }
    let arrives = stations(row).last().map_or(0.0, |s| s.1);
    let value = match (row.kind, row.to_edge) {
        (Kind::Propagation | Kind::ClockToOutput | Kind::Enable, Some(Edge::Rise)) => "1z",
        (Kind::Propagation | Kind::ClockToOutput | Kind::Enable, _) => "0",
        (Kind::Disable, _) => "z",
        _ => return None,
    };
    let end = stations(row).last().and_then(|(wire, _)| changes.get(wire)?.last().copied());
    (!end.is_some_and(|(at, v)| value.contains(v) && (at - row.time.ns).abs() < 0.01 && (at - arrives).abs() < 0.01))
        .then(|| format!("ends {end:?}, not {value} at {}", row.time.ns))
}

/// How many rows show in the first runs; each is done again.
fn replay(name: &str, trace: &str, most: usize) -> usize {
    let board = board(name, trace);
    let timing: Timing = original(&board);
    let folder = tempfile::tempdir().unwrap();
    let runs: Vec<_> = timing.runs.iter().take(most).cloned().collect();
    let seen = play(&board, &runs, folder.path(), &mut longest);
    let rows = timing.rows.iter().filter(|r| r.witness.is_some_and(|w| w.run < runs.len()));
    let objections: Vec<String> = rows
        .clone()
        .filter_map(|row| {
            let why = objection(row, &seen[row.witness?.run])?;
            let run = row.witness?;
            Some(format!(
                "{} {} {:?} to {} {:?}, {} ns, run {} event {}: {why}",
                row.kind, row.from, row.from_edge, row.to, row.to_edge, row.time.ns, run.run, run.event
            ))
        })
        .collect();
    let count = rows.count();
    assert!(objections.is_empty(), "{name}: {} of {count}\n{}", objections.len(), objections.join("\n"));
    count
}

#[test]
fn runs_show_their_times_again() {
    for (name, trace) in EXAMPLES.into_iter().filter(|_| is_there()) {
        let count = replay(name, trace, 5);
        println!("{name}: {count} times done again");
        assert!(count > 5, "{name}");
    }
}

#[test]
#[ignore = "the sample above, of every run"]
fn every_run_shows_its_time_again() {
    for (name, trace) in EXAMPLES.into_iter().filter(|_| is_there()) {
        println!("{name}: {} times done again", replay(name, trace, usize::MAX));
    }
}

/// With delays drawn between nought and the sheets' longest, nothing comes later than the longest paths; returns how many
/// changes were looked at.
fn drawn(name: &str, trace: &str, seed: u64, most: usize) -> usize {
    let board = board(name, trace);
    let all: Vec<String> = board.chips().map(|(reference, _)| reference.to_owned()).collect();
    let bound = together(&board, &all, &[]);
    let runs: Vec<_> = original(&board).runs.into_iter().take(most).collect();
    let mut random = Numbers(seed);
    let mut draw = |figures: &PartFigures, from: &Label, to: &Label, change: Change| {
        let most = figures.longest(from, to, change).map_or(0.0, |f| f.value);
        // a simulator counts in ps
        (most * random.below(1001) as f64).round() / 1000.0
    };
    let folder = tempfile::tempdir().unwrap();
    let seen = play(&board, &runs, folder.path(), &mut draw);
    let nets = board.netlist().nets;
    let (mut count, mut beyond) = (0, Vec::new());
    for (run, seen) in runs.iter().zip(&seen) {
        for (event, changes) in run.events.iter().zip(&seen.events) {
            let from = (event.at.as_str(), Edge::to(event.high));
            for net in nets.iter().filter(|net| !net.contacts.iter().any(|l| l.to_string() == event.at)) {
                for &(at, value) in net.contacts.first().and_then(|_| changes.get(&net.name)).into_iter().flatten() {
                    let to = net.contacts[0].to_string();
                    let rows = bound.rows.iter().filter(|row| match row.kind {
                        Kind::Propagation | Kind::ClockToOutput | Kind::Enable => {
                            row.to_edge == Some(Edge::to(value == '1'))
                        }
                        Kind::Disable => true,
                        _ => false,
                    });
                    let between = |r: &&Row| r.from.label == from.0 && r.from_edge == Some(from.1) && r.to.label == to;
                    let most = rows.filter(between).map(|r| r.time.ns).fold(f64::NEG_INFINITY, f64::max);
                    count += 1;
                    if at > most + 0.01 {
                        beyond.push(format!("{from:?} to {to} {value}: {at} ns, not {most}"));
                    }
                }
            }
        }
    }
    beyond.sort();
    beyond.dedup();
    assert!(beyond.is_empty(), "{name}: of {count}\n{}", beyond.join("\n"));
    count
}

#[test]
fn drawn_delays_stay_within_the_longest_paths() {
    for (name, trace) in EXAMPLES.into_iter().filter(|_| is_there()) {
        let count = drawn(name, trace, 1, 4);
        println!("{name}: {count} changes within the longest paths");
    }
}

#[test]
#[ignore = "the sample above, of every run and with more draws"]
fn many_drawn_delays_stay_within_the_longest_paths() {
    for (name, trace) in EXAMPLES.into_iter().filter(|_| is_there()) {
        let count: usize = (0..10).map(|seed| drawn(name, trace, 100 + seed, usize::MAX)).sum();
        println!("{name}: {count} changes within the longest paths");
    }
}
