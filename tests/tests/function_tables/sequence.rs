//! What a part does over several events: rows of steps, and the states that a counter goes through.
//!
//! ```text
//! steps 74LS374                      rows like those of a table, one after the other, from every start
//! source …
//! OE CLK 1D | 1Q
//! H  ↑   H  | Z                      levels first, then the edge; X leaves a pin as it is
//! L  X   X  | H
//!
//! count 74LS93
//! source …
//! wire QA CKB                        pins that are joined
//! with R0(1)=L                       levels that stand; other inputs may have any
//! clock CKA ↓
//! show QD QC QB QA
//! 0000 0001 0010                     each state is followed by the next one, from every start that shows it
//! open                               no sheet says what follows these states: the run must say that it is unknown
//! ```
use std::fmt::Write;

use gluewright::circuit::{Circuit, Contact, Label, Landing, NetId, Origin};
use gluewright_parts::ttl;

use super::bench::{Bench, Combinations, logic_of};
use super::table::level_before;

#[derive(Debug, Default)]
pub(crate) struct Steps {
    file: String,
    parts: Vec<String>,
    source: String,
    inputs: Vec<String>,
    outputs: Vec<String>,
    rows: Vec<(usize, Vec<String>, Vec<String>)>,
}

#[derive(Debug, Default)]
pub(crate) struct Count {
    file: String,
    line: usize,
    parts: Vec<String>,
    source: String,
    wires: Vec<(String, String)>,
    fixed: Vec<(String, bool)>,
    clock: (String, bool),
    show: Vec<String>,
    states: Vec<String>,
    is_open: bool,
}

/// Reads the blocks of a file that start with `steps`.
pub(crate) fn read_steps(file: &str, text: &str) -> Vec<Steps> {
    blocks(text, "steps")
        .into_iter()
        .map(|block| {
            let mut steps = Steps { file: file.to_owned(), ..Steps::default() };
            for (line, content) in block {
                let words: Vec<String> = content.split_whitespace().map(str::to_owned).collect();
                match words.first().map(String::as_str) {
                    Some("steps") => steps.parts = words[1..].to_vec(),
                    Some("source") => steps.source = words[1..].join(" "),
                    _ => {
                        let bar = words.iter().position(|w| w == "|").unwrap_or_else(|| panic!("{file}:{line}: no |"));
                        let (left, right) = (words[..bar].to_vec(), words[bar + 1..].to_vec());
                        if steps.inputs.is_empty() {
                            (steps.inputs, steps.outputs) = (left, right);
                        } else {
                            assert_eq!(left.len(), steps.inputs.len(), "{file}:{line}: inputs");
                            assert_eq!(right.len(), steps.outputs.len(), "{file}:{line}: outputs");
                            steps.rows.push((line, left, right));
                        }
                    }
                }
            }
            assert!(!steps.source.is_empty() && !steps.rows.is_empty(), "{file}: steps without a source or rows");
            steps
        })
        .collect()
}

/// Reads the blocks of a file that start with `count`.
pub(crate) fn read_counts(file: &str, text: &str) -> Vec<Count> {
    blocks(text, "count")
        .into_iter()
        .map(|block| {
            let mut count = Count { file: file.to_owned(), ..Count::default() };
            for (line, content) in block {
                let words: Vec<String> = content.split_whitespace().map(str::to_owned).collect();
                match words.first().map(String::as_str) {
                    Some("count") => (count.parts, count.line) = (words[1..].to_vec(), line),
                    Some("source") => count.source = words[1..].join(" "),
                    Some("wire") => count.wires.push((words[1].clone(), words[2].clone())),
                    Some("with") => {
                        count.fixed.extend(
                            words[1..].iter().filter_map(|w| w.split_once('=')).map(|(p, l)| (p.to_owned(), l == "H")),
                        );
                    }
                    Some("clock") => count.clock = (words[1].clone(), words[2] == "↑"),
                    Some("open") => count.is_open = true,
                    Some("show") => count.show = words[1..].to_vec(),
                    _ => count.states.extend(words),
                }
            }
            let fits = |s: &String| s == "--" || s.len() == count.show.len();
            assert!(count.states.iter().all(fits), "{file}:{}: a state of another length", count.line);
            assert!(!count.source.is_empty() && count.states.len() > 1, "{file}:{}: no source or states", count.line);
            count
        })
        .collect()
}

/// The lines of each block that starts with this word.
fn blocks<'a>(text: &'a str, word: &str) -> Vec<Vec<(usize, &'a str)>> {
    let mut blocks: Vec<Vec<(usize, &str)>> = Vec::new();
    let mut wanted = false;
    for (line, content) in (1..).zip(text.lines()) {
        let content = content.split('#').next().unwrap_or_default().trim();
        let first = content.split_whitespace().next().unwrap_or_default();
        if matches!(first, "table" | "steps" | "count") {
            wanted = first == word;
            if wanted {
                blocks.push(Vec::new());
            }
        }
        if let Some(block) = blocks.last_mut().filter(|_| wanted && !content.is_empty()) {
            block.push((line, content));
        }
    }
    blocks
}

fn word(high: bool) -> u64 {
    if high { u64::MAX } else { 0 }
}

impl Steps {
    pub(crate) fn parts(&self) -> &[String] {
        &self.parts
    }

    /// Rows run and combinations tried.
    pub(crate) fn run(&self, report: &mut String) -> (usize, u64) {
        let done = self.parts.iter().map(|part| self.run_on(part, &logic_of(part), report));
        done.fold((0, 0), |all, one| (all.0 + one.0, all.1 + one.1))
    }

    /// The same for one part with this logic.
    pub(crate) fn run_on(&self, part: &str, logic: &Circuit, report: &mut String) -> (usize, u64) {
        let bench = Bench::of(part, logic);
        let (inputs, cells) = (bench.inputs(), bench.free_cells());
        let combinations = Combinations::of(inputs.len() + cells.len());
        let tried = combinations.total();
        'batches: for bits in combinations {
            let mut outside = vec![0; bench.machine.ports().len()];
            let mut held = vec![0; bench.machine.cells().len()];
            for (name, &bits) in inputs.iter().zip(&bits) {
                outside[bench.port(name)] = bits;
            }
            for (&cell, &bits) in cells.iter().zip(&bits[inputs.len()..]) {
                held[cell] = bits;
            }
            let (mut point, mut strange) = bench.start(&outside, &held);
            for (line, given, expected) in &self.rows {
                let named = || self.inputs.iter().zip(given);
                let level = |l: &str| match l {
                    "H" | "↓" => Some(true),
                    "L" | "↑" => Some(false),
                    _ => None,
                };
                // the clock goes back to where its edge starts before the data change
                let back: Vec<_> = named()
                    .filter(|(_, l)| matches!(l.as_str(), "↑" | "↓"))
                    .filter_map(|(p, l)| level(l).map(|high| (bench.port(p), word(high))))
                    .collect();
                (point, _) = bench.step(&point, &back);
                for (pin, l) in named() {
                    if let Some(high) = level(l) {
                        (point, _) = bench.step(&point, &[(bench.port(pin), word(high))]);
                    }
                }
                let edges: Vec<_> = back.iter().map(|&(port, level)| (port, !level)).collect();
                let (next, unknown) = bench.step(&point, &edges);
                strange |= unknown;
                point = next;
                let wrong = self.outputs.iter().zip(expected).fold(strange, |wrong, (output, expected)| {
                    let shows = bench.shows(&point, output);
                    wrong
                        | match expected.as_str() {
                            "H" => !shows.reads_high(),
                            "L" => !shows.reads_low(),
                            "Z" => shows.driven,
                            "*" => 0,
                            other => panic!("{}:{line}: {other}", self.file),
                        }
                });
                if wrong != 0 {
                    let _ = writeln!(report, "{}:{line}: {part} (run {})", self.file, wrong.trailing_zeros());
                    break 'batches;
                }
            }
        }
        (self.rows.len(), tried)
    }
}

impl Count {
    pub(crate) fn parts(&self) -> &[String] {
        &self.parts
    }

    /// Transitions checked and combinations tried.
    pub(crate) fn run(&self, report: &mut String) -> (usize, u64) {
        let done = self.parts.iter().map(|part| self.run_on(part, &logic_of(part), report));
        done.fold((0, 0), |all, one| (all.0 + one.0, all.1 + one.1))
    }

    /// The same for one part with this logic.
    pub(crate) fn run_on(&self, part: &str, logic: &Circuit, report: &mut String) -> (usize, u64) {
        let pairs: Vec<(&String, &String)> =
            self.states.iter().zip(&self.states[1..]).filter(|(a, b)| *a != "--" && *b != "--").collect();
        let bench = Bench::of(part, &self.wired(part, logic));
        let mut seen = vec![false; pairs.len()];
        let cells = bench.free_cells();
        let any: Vec<String> = bench
            .inputs()
            .into_iter()
            .filter(|i| *i != self.clock.0 && !self.fixed.iter().any(|(p, _)| p == i))
            .collect();
        let combinations = Combinations::of(any.len() + cells.len());
        let tried = combinations.total();
        for bits in combinations {
            let mut outside = vec![0; bench.machine.ports().len()];
            let mut held = vec![0; bench.machine.cells().len()];
            for (name, high) in &self.fixed {
                outside[bench.port(name)] = word(*high);
            }
            outside[bench.port(&self.clock.0)] = word(!self.clock.1);
            for (name, &bits) in any.iter().zip(&bits) {
                outside[bench.port(name)] = bits;
            }
            for (&cell, &bits) in cells.iter().zip(&bits[any.len()..]) {
                held[cell] = bits;
            }
            let (before, restless) = bench.start(&outside, &held);
            let (after, unknown) = bench.step(&before, &[(bench.port(&self.clock.0), word(self.clock.1))]);
            for (seen, (from, to)) in seen.iter_mut().zip(&pairs) {
                let here = self.in_state(&bench, &before, from);
                *seen |= here != 0;
                let strange = if self.is_open { !unknown } else { unknown };
                let wrong = here & (!self.in_state(&bench, &after, to) | restless | strange);
                if wrong != 0 {
                    let lane = wrong.trailing_zeros();
                    let went: String = self
                        .show
                        .iter()
                        .map(|p| if level_before(&bench, &after, p) >> lane & 1 == 1 { '1' } else { '0' })
                        .collect();
                    let _ =
                        writeln!(report, "{}:{}: {part} goes from {from} to {went}, not to {to}", self.file, self.line);
                    return (0, tried);
                }
            }
        }
        for ((from, _), _) in pairs.iter().zip(&seen).filter(|(_, seen)| !**seen) {
            let _ = writeln!(report, "{}:{}: {part} never shows {from}", self.file, self.line);
        }
        (pairs.len(), tried)
    }

    fn in_state(&self, bench: &Bench, point: &gluewright_kernel::machine::Point<u64>, state: &str) -> u64 {
        self.show.iter().zip(state.chars()).fold(u64::MAX, |all, (pin, bit)| {
            let level = level_before(bench, point, pin);
            all & if bit == '1' { level } else { !level }
        })
    }

    /// The part with its wires: a pin that is wired to another has no contact of its own.
    fn wired(&self, part: &str, logic: &Circuit) -> Circuit {
        let kind = ttl().find(part).unwrap_or_else(|e| panic!("{part}: {e}")).kind;
        let sheet = &kind.sheets()[0];
        let mut host = Circuit::new(part);
        let mut nets: Vec<(Label, NetId)> = Vec::new();
        let name_of = |label: &Label| sheet.pin(label).map_or("", |p| p.name.as_str()).to_owned();
        for contact in logic.contacts() {
            let name = name_of(&contact.label);
            if self.wires.iter().any(|(_, input)| *input == name) {
                continue;
            }
            let net = host.add_net(&name, Origin::Nowhere);
            host.add_contact(Contact { net, ..contact.clone() });
            nets.push((contact.label.clone(), net));
        }
        let net_of = |label: &Label| nets.iter().find(|(l, _)| l == label).map(|(_, net)| *net);
        host.place("U1", logic, |label| {
            let name = name_of(label);
            let wire = self.wires.iter().find(|(_, input)| *input == name);
            let source = wire.and_then(|(output, _)| sheet.pin_named(output)).map_or(label, |p| &p.label);
            net_of(source).map_or(Landing::Open, Landing::Net)
        });
        host
    }
}
