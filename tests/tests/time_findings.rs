//! What is said of time on boards beside themselves: how many have a finding, by rule, and what becomes of the question.
//!
//! A sample runs by default. `cargo test --workspace --test checks time_findings:: -- --ignored --nocapture` asks about 300 drawn
//! boards, each beside its rewriting, and, if `GLUEWRIGHT_BOARDS` names a folder of traces, about each of these beside
//! itself.
use std::collections::BTreeMap;
use std::fmt::Write;
use std::time::Duration;

use gluewright::board::Reading;
use gluewright::circuit::Circuit;
use gluewright::prove::{Failure, Question, Why};
use gluewright_parts::ttl;
use gluewright_tests::boards::{board, rewritten, trace};
use gluewright_tests::gates::Numbers;

/// Verdicts and findings by their kind: how many boards have one, and how many there are.
#[derive(Default)]
struct Counts {
    verdicts: BTreeMap<&'static str, usize>,
    findings: BTreeMap<String, (usize, usize)>,
    of_time: usize,
    boards: usize,
    bits: usize,
}

impl Counts {
    fn ask(&mut self, name: &str, original: &Circuit, replacement: &Circuit) {
        let question = Question::new(original.clone(), replacement.clone()).in_time(Duration::from_secs(20));
        let answer = question.ask();
        let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
        let verdict = match &answer {
            Ok(proof) => {
                for t in &proof.typical {
                    *kinds.entry(format!("{} by typical delays", rule(&t.finding.why))).or_default() += 1;
                }
                if proof.typical.is_empty() { "proved" } else { "proved, by typical delays" }
            }
            Err(Failure::Withheld(w)) => {
                for h in &w.hidden {
                    *kinds.entry(rule(&h.why)).or_default() += 1;
                }
                "withheld"
            }
            Err(Failure::Undecided(u)) => {
                println!("{name}: {u}");
                "undecided"
            }
            Err(Failure::Refuted(r)) => {
                println!("{name}: {r}");
                "refuted"
            }
            Err(_) => "other",
        };
        self.boards += 1;
        self.bits += original.elements().len();
        self.of_time += usize::from(!kinds.is_empty());
        *self.verdicts.entry(verdict).or_default() += 1;
        for (kind, count) in kinds {
            let all = self.findings.entry(kind).or_default();
            *all = (all.0 + 1, all.1 + count);
        }
    }

    fn print(&self, what: &str) {
        println!("{what}: {} boards, {} stored bits, {} with a finding", self.boards, self.bits, self.of_time);
        self.verdicts.iter().for_each(|(verdict, n)| println!("  {verdict:28} {n:5}"));
        println!("  {:28} boards findings", "finding");
        self.findings.iter().for_each(|(kind, (boards, n))| println!("  {kind:28} {boards:6} {n:8}"));
    }
}

fn rule(why: &Why) -> String {
    match why {
        Why::Order { rule, .. } => format!("{rule:?}"),
        Why::Constant(_) => "Constant".to_owned(),
        Why::Race => "Race".to_owned(),
        Why::InTurn { .. } => "InTurn".to_owned(),
        Why::Fades { .. } => "Fades".to_owned(),
        Why::Ignored { .. } => "Ignored".to_owned(),
        Why::Still { .. } => "Still".to_owned(),
        Why::OpenAgain => "OpenAgain".to_owned(),
        Why::Floats { .. } => "Floats".to_owned(),
    }
}

fn drawn(counts: &mut Counts, numbers: std::ops::Range<u64>) {
    for number in numbers {
        let mut n = Numbers(number.wrapping_mul(1_000_003).wrapping_add(17));
        let packages = 3 + (number as usize * 7) % 18;
        let original = loop {
            let most_bits = 3 + n.below(7);
            if let Some(circuit) = board(&trace(&mut n, packages, most_bits)) {
                break circuit;
            }
        };
        let replacement = rewritten(&mut n, &original);
        counts.ask(&format!("board {number}"), &original, &replacement);
    }
}

#[test]
fn drawn_boards_beside_their_rewriting_are_never_refuted() {
    let mut counts = Counts::default();
    drawn(&mut counts, 0..6);
    counts.print("drawn");
    assert_eq!(counts.verdicts.get("refuted"), None);
    assert_eq!(counts.verdicts.values().sum::<usize>(), 6);
}

#[test]
#[ignore = "300 drawn boards and a folder of published ones: minutes"]
fn three_hundred_boards_and_published_ones() {
    let mut counts = Counts::default();
    let count = std::env::var("GLUEWRIGHT_COUNT").ok().and_then(|n| n.parse().ok()).unwrap_or(300);
    drawn(&mut counts, 0..count);
    counts.print("drawn");
    // a race that typical delays decide in the original is against its rewriting, which has none
    let refuted = counts.verdicts.get("refuted").copied().unwrap_or(0);
    assert!(refuted * 20 <= counts.boards, "{refuted} refuted");
    let Ok(folder) = std::env::var("GLUEWRIGHT_BOARDS") else { return };
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let reading = Reading::new().others_stay().printed_supplies();
    let mut counts = Counts::default();
    for path in files.iter().filter(|p| p.extension().is_some_and(|e| e == "csv")) {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let read = reading.csv(&name, std::fs::read(path).unwrap(), ttl());
        let Ok(Ok(circuit)) = read.map(|b| b.circuit()) else {
            println!("{name}: refused");
            continue;
        };
        let before = (counts.of_time, counts.verdicts.clone());
        counts.ask(&name, &circuit, &circuit);
        let verdict = counts.verdicts.iter().find(|(v, n)| before.1.get(*v) != Some(*n)).map_or("?", |(v, _)| v);
        println!("{name}: {verdict}{}", if counts.of_time > before.0 { ", with findings of time" } else { "" });
    }
    counts.print("published");
    assert_eq!(counts.verdicts.get("refuted"), None);
}

/// Two 74LS193 of which the first carries into the second: what the carry masks inside the second moves after it.
#[test]
fn a_counter_that_carries_into_another_leaves_nothing_open() {
    let mut csv =
        "ref,part,pin,net\nJ1,contacts,1,up\nJ1,contacts,2,clr\nJ1,contacts,3,first\nJ1,contacts,4,last\n".to_owned();
    for (of, pins) in [("U1", ["up", "first", "carry"]), ("U2", ["carry", "last", "open"])] {
        for (pin, net) in ["5", "7", "12"].into_iter().zip(pins) {
            let _ = writeln!(csv, "{of},74LS193,{pin},{net}");
        }
        for (pin, net) in [("14", "clr"), ("4", "VCC"), ("11", "VCC"), ("16", "VCC"), ("8", "GND")] {
            let _ = writeln!(csv, "{of},74LS193,{pin},{net}");
        }
        let _ = writeln!(
            csv,
            "{of},74LS193,1,GND\n{of},74LS193,9,GND\n{of},74LS193,10,GND\n{of},74LS193,15,GND\n{of},74LS193,others,open"
        );
    }
    let card = board(&csv).expect("sound");
    let answer = Question::new(card.clone(), card).ask();
    assert!(answer.is_ok(), "{answer:?}");
}
