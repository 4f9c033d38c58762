//! Every time that an original is shown to take, done again in a simulator from outside, from what a job writes and the trace
//! alone; and that with delays drawn within the figures nothing comes later than the bounds.
#![allow(clippy::unwrap_used, clippy::panic, reason = "boards are those of this file")]
use std::collections::HashMap;
use std::ops::Range;

use gluewright::board::{Board, TraceError};
use gluewright::circuit::Label;
use gluewright::figures::{Change, PartFigures};
use gluewright::job::Job;
use gluewright::prelude::*;
use gluewright::timing::{Budget, Comparison, Edge, Held, Kind, Put, Row, Run, Timing, compare, original, together};
use gluewright_examples::{loom_bridge, organ_memory, organ_pistons, sample_card};
use gluewright_parts::ttl;
use gluewright_tests::boards::trace;
use gluewright_tests::delays::{Seen, longest, play};
use gluewright_tests::gates::Numbers;
use gluewright_tests::icarus::is_there;
use serde_json::Value;

const EXAMPLES: [(&str, &str); 4] = [
    ("sample_card.csv", include_str!("../../examples/src/sample_card.csv")),
    ("loom_bridge.csv", include_str!("../../examples/src/loom_bridge.csv")),
    ("organ_memory.csv", include_str!("../../examples/src/organ_memory.csv")),
    ("organ_pistons.csv", include_str!("../../examples/src/organ_pistons.csv")),
];

fn board(name: &str, trace: &str) -> Board {
    Board::from_csv(name, trace, ttl()).unwrap()
}

/// A row of timing.csv, as far as the original is in it.
#[derive(Debug)]
struct Told {
    kind: String,
    from: String,
    change: String,
    to: String,
    its_change: String,
    original_ns: Option<f64>,
    path_of_original: String,
    run_and_event: String,
}

impl Told {
    fn new(row: &HashMap<String, String>) -> Told {
        let of = |column: &str| row[column].clone();
        Told {
            kind: of("kind"),
            from: of("from"),
            change: of("change"),
            to: of("to"),
            its_change: of("its_change"),
            original_ns: row["original_ns"].parse().ok(),
            path_of_original: of("path_of_original"),
            run_and_event: of("run_and_event"),
        }
    }

    /// The steps of the path, each with what it takes: `U3 (74LS109) pin 12 to 9 40 ns`.
    fn steps(&self) -> Vec<(&str, f64)> {
        let steps = self.path_of_original.split("; ").filter(|step| !step.is_empty());
        let step = |step: &'_ str| match step.strip_suffix(" ns").and_then(|step| step.rsplit_once(' ')) {
            Some((through, ns)) => (through.len(), ns.parse().unwrap_or_else(|_| panic!("{step}"))),
            None => (step.strip_suffix(" unknown").unwrap_or_else(|| panic!("{step}")).len(), 0.0),
        };
        steps.map(|text| (&text[..step(text).0], step(text).1)).collect()
    }

    /// The wires that the path comes over, by part and pin, with the time at which each changes.
    fn stations(&self) -> Vec<(String, f64)> {
        let mut ns = 0.0;
        let mut all = Vec::new();
        for (through, its) in self.steps() {
            ns += its;
            // of what samples it is `U3 (74LS109) pin 9 before pin 11`
            let words: Vec<&str> = through.split_whitespace().collect();
            if let [reference, .., "to", pin] = words[..] {
                all.push((format!("{reference}-{pin}"), ns));
            }
        }
        all
    }

    /// The run and the event that show it.
    fn witness(&self) -> Option<(usize, usize)> {
        let (run, event) = self.run_and_event.split_once(' ')?;
        Some((run.parse().ok()?, event.parse().ok()?))
    }

    /// Why the run does not show what the row says, if it doesn't.
    fn objection(&self, run: &Run, last: usize, seen: &Seen) -> Option<String> {
        let label = |at: &str| at.split(' ').next().unwrap_or_default().to_owned();
        // of what samples, the path is that of an earlier event
        let event = match self.kind.as_str() {
            "setup" | "recovery" => last.checked_sub(1)?,
            "hold" => last.checked_sub(1)?,
            "clock period" if self.change == self.its_change => last.checked_sub(2)?,
            "clock period" => last.checked_sub(1)?,
            _ => last,
        };
        // the contacts that the row names are those that move
        let moves = |at: &str, change: &str, event: usize| {
            let put = &run.events[event];
            (put.at != label(at) || put.high != (change == "rises")).then(|| format!("event {event} is {put:?}"))
        };
        let other = match self.kind.as_str() {
            "setup" | "recovery" | "clock period" => moves(&self.to, &self.its_change, last),
            "hold" => moves(&self.to, &self.its_change, last - 1).or_else(|| moves(&self.from, &self.change, last)),
            _ => None,
        };
        let first = if self.kind == "hold" { None } else { moves(&self.from, &self.change, event) };
        if let Some(wrong) = first.or(other) {
            return Some(wrong);
        }
        let changes = &seen.events[event];
        for (wire, ns) in self.stations() {
            let all = changes.get(&wire).map_or(&[][..], |c| c);
            if !matches!(all, [(at, _)] if (at - ns).abs() < 0.01) {
                return Some(format!("{wire} at {ns} ns: {all:?}"));
            }
        }
        let sum: f64 = self.steps().iter().map(|(_, ns)| ns).sum();
        let told = self.original_ns?;
        // what the clock's own way takes is taken off a period
        if self.kind != "clock period" && (sum - told).abs() > 0.051 {
            return Some(format!("the path takes {sum}"));
        }
        let value = match self.its_change.as_str() {
            _ if !["propagation", "clock to output", "enable", "disable"].contains(&self.kind.as_str()) => return None,
            "rises" | "is driven high" => "1z",
            "falls" | "is driven low" => "0",
            "lets go of high" | "lets go of low" => "z",
            other => return Some(format!("{other} is no change")),
        };
        let end = self.stations().last().and_then(|(wire, _)| changes.get(wire)?.last().copied());
        let ends = end.is_some_and(|(at, v)| value.contains(v) && (at - sum).abs() < 0.01);
        (!ends).then(|| format!("ends {end:?}, not {value} at {told}"))
    }
}

/// The runs of runs.json.
fn runs(text: &[u8]) -> Vec<Run> {
    let put = |(at, high): (&String, &Value)| Put { at: at.clone(), high: high.as_bool().unwrap() };
    let puts = |value: &Value| value.as_object().unwrap().iter().map(put).collect::<Vec<_>>();
    let run = |run: &Value| Run {
        start: run["start"]
            .as_object()
            .unwrap()
            .iter()
            .map(|(part, bits)| Held { part: part.clone(), bits: puts(bits) })
            .collect(),
        loops: puts(&run["loops"]),
        levels: puts(&run["levels"]),
        events: run["events"]
            .as_array()
            .unwrap()
            .iter()
            .map(|event| Put { at: event[0].as_str().unwrap().to_owned(), high: event[1].as_bool().unwrap() })
            .collect(),
    };
    let all: Value = serde_json::from_slice(text).unwrap();
    all.as_array().unwrap().iter().map(run).collect()
}

/// Does every row of a job's timing.csv again by the run of its runs.json that it names; returns how many.
fn written<C: Wiring>((name, trace): (&str, &str), job: Job<C>) -> usize {
    let made = job.testing(None).make().unwrap_or_else(|e| panic!("{e}"));
    let mut reader = csv::Reader::from_reader(made.file("timing.csv").unwrap());
    let rows: Vec<Told> = reader.deserialize().map(|row| Told::new(&row.unwrap())).collect();
    replay(&board(name, trace), &rows, &runs(made.file("runs.json").unwrap()))
}

/// The same run with other bits at power-up where it does not say that they count: none of its times may hang on them.
fn otherwise(board: &Board, run: &Run, random: &mut Numbers) -> Run {
    let mut run = run.clone();
    for chip in board.netlist().chips {
        if !run.start.iter().any(|held| held.part == chip.reference) {
            run.start.push(Held { part: chip.reference.clone(), bits: Vec::new() });
        }
        let held = run.start.iter_mut().find(|held| held.part == chip.reference).unwrap();
        for e in chip.part.circuit().elements() {
            if !held.bits.iter().any(|bit| bit.at == e.name) {
                held.bits.push(Put { at: e.name.clone(), high: random.below(2) == 1 });
            }
        }
    }
    run
}

/// Does every row again by the run that it names; returns how many.
fn replay(board: &Board, rows: &[Told], runs: &[Run]) -> usize {
    let folder = tempfile::tempdir().unwrap();
    let mut random = Numbers(17);
    let others: Vec<Run> = runs.iter().map(|run| otherwise(board, run, &mut random)).collect();
    let seen = play(board, &others, folder.path(), &mut longest);
    let (mut count, mut objections) = (0, Vec::new());
    for row in rows.iter().filter(|r| r.original_ns.is_some() && !r.kind.ends_with("pulse")) {
        count += 1;
        let why = match row.witness() {
            None => Some("no run shows it".to_owned()),
            Some((run, event)) => row.objection(&runs[run], event, &seen[run]),
        };
        objections.extend(why.map(|why| format!("{row:?}: {why}")));
    }
    let name = board.name();
    assert!(objections.is_empty(), "{name}: {} of {count}\n{}", objections.len(), objections.join("\n"));
    println!("{name}: {count} times done again by {} runs", runs.len());
    count
}

fn bridge() -> Job<loom_bridge::LoomBridge> {
    let job = gluewright::job::<loom_bridge::LoomBridge>(loom_bridge::lost_bridge()).fitting("CPLD-32");
    ["U1.q[0]", "U2.q[0]"]
        .map(|of| format!("data of {of} and 7 others of the original when 3 to_loom changes"))
        .into_iter()
        .chain(
            ["a[0]", "b[0]"].map(|of| format!("data of {of} and 7 others of the replacement when 3 to_loom changes")),
        )
        .fold(job.acknowledging("clash_n"), |job, finding| job.acknowledging(finding))
}

fn card<C: Wiring>(card: Result<Board, TraceError>) -> Job<C> {
    gluewright::job::<C>(card)
}

#[test]
fn every_row_shows_its_time_again() {
    if !is_there() {
        return;
    }
    let pistons = card(organ_pistons::lost_card()).assuming(organ_pistons::breaks_before_it_makes);
    let counts = [
        written(EXAMPLES[0], card::<sample_card::SampleCard>(sample_card::lost_card())),
        written(EXAMPLES[1], bridge()),
        written(EXAMPLES[2], card::<organ_memory::OrganMemory>(organ_memory::lost_card()).fitting("16V8")),
        written(EXAMPLES[3], pistons.fitting("16V8")),
    ];
    assert!(counts.iter().all(|count| *count > 20), "{counts:?}");
}

/// With delays drawn between nought and the sheets' longest, nothing comes later than the longest paths; returns how many
/// changes were looked at.
fn drawn(board: &Board, runs: &[Run], seed: u64) -> usize {
    let all: Vec<String> = board.chips().map(|(reference, _)| reference.to_owned()).collect();
    let bound = together(board, &all, &[]);
    let mut random = Numbers(seed);
    let mut draw = |figures: &PartFigures, from: &Label, to: &Label, change: Change| {
        let most = figures.longest(from, to, change).map_or(0.0, |f| f.value);
        // a simulator counts in ps
        (most * random.below(1001) as f64).round() / 1000.0
    };
    let folder = tempfile::tempdir().unwrap();
    let seen = play(board, runs, folder.path(), &mut draw);
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
    let name = board.name();
    assert!(beyond.is_empty(), "{name}: of {count}\n{}", beyond.join("\n"));
    println!("{name}: {count} changes within the longest paths");
    count
}

/// The same for drawn boards; a drawn trace may have an error, and a board that nobody can tell the times of has no runs.
fn on_drawn_boards(numbers: Range<u64>) -> usize {
    let of = |number| {
        let rows = trace(&mut Numbers(number), 6, 12);
        let Ok(board) = Board::from_csv(format!("drawn {number}").as_str(), rows, ttl()) else { return 0 };
        let timing = original(&board);
        if timing.gap.is_some() { 0 } else { drawn(&board, &timing.runs, number) }
    };
    numbers.map(of).sum()
}

/// The times of drawn boards done again; returns how many.
fn shown_of_drawn_boards(numbers: Range<u64>) -> usize {
    let of = |number| {
        let rows = trace(&mut Numbers(number), 6, 12);
        let Ok(board) = Board::from_csv(format!("drawn {number}").as_str(), rows, ttl()) else { return 0 };
        let timing = original(&board);
        if timing.gap.is_some() {
            return 0;
        }
        let told = compare(&timing, &Timing::default(), &Budget::as_original()).table();
        let told = told.into_iter().map(|row| Comparison::COLUMNS.map(str::to_owned).into_iter().zip(row).collect());
        let told: Vec<Told> = told.map(|row| Told::new(&row)).collect();
        replay(&board, &told, &timing.runs)
    };
    numbers.map(of).sum()
}

/// On board 82 one net is both data and strobe of a 74LS153, whose figures differ.
#[test]
fn every_time_of_drawn_boards_shows_again() {
    assert!(!is_there() || shown_of_drawn_boards(80..83) > 20);
}

/// `GLUEWRIGHT_BOARDS=150-300` takes these instead of the first two hundred.
#[test]
#[ignore = "the sample above, of two hundred boards or more"]
fn every_time_of_many_drawn_boards_shows_again() {
    let said = std::env::var("GLUEWRIGHT_BOARDS").unwrap_or_default();
    let range = said.split_once('-').and_then(|(first, end)| Some(first.parse().ok()?..end.parse().ok()?));
    println!("{} times done again in all", shown_of_drawn_boards(range.unwrap_or(1..201)));
}

#[test]
fn drawn_delays_of_drawn_boards_stay_within_the_longest_paths() {
    assert!(!is_there() || on_drawn_boards(80..83) > 50);
}

#[test]
#[ignore = "the sample above, of forty boards"]
fn drawn_delays_of_forty_drawn_boards_stay_within_the_longest_paths() {
    println!("{} changes within the longest paths in all", on_drawn_boards(81..121));
}

#[test]
fn drawn_delays_stay_within_the_longest_paths() {
    for (name, trace) in EXAMPLES.into_iter().filter(|_| is_there()) {
        let board = board(name, trace);
        let runs = original(&board).runs;
        drawn(&board, &runs[..runs.len().min(4)], 1);
    }
}

#[test]
#[ignore = "the sample above, of every run and with more draws"]
fn many_drawn_delays_stay_within_the_longest_paths() {
    for (name, trace) in EXAMPLES.into_iter().filter(|_| is_there()) {
        let board = board(name, trace);
        let runs = original(&board).runs;
        let count: usize = (0..10).map(|seed| drawn(&board, &runs, 100 + seed)).sum();
        println!("{name}: {count} changes within the longest paths in all");
    }
}
