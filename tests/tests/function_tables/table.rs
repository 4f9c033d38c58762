//! Function tables as they are typed in from data sheets, and how one is run.
//!
//! ```text
//! table 74LS74                       the parts that it holds for
//! source National TL/F/6373          where it was read
//! sections 1 2                       what `n` in a pin's name stands for, one run each
//! nPRE nCLR nCLK nD | nQ nQ_N        inputs and outputs
//! H    H    ↑    L  | L  H           one row: H, L, an edge, or X for any level
//! ```
//! An output is H, L, Z (off), `=` (as before the event), `~` (the opposite), the name of a pin whose level before the
//! event it takes, or `~` and a name. A row with an edge changes that pin only. A row without one is compared as it
//! settles, and if it has `=`, again after all pins with X have changed to anything. A high of an open collector is off.
use std::fmt::Write;

use gluewright::circuit::Circuit;
use gluewright_kernel::machine::Point;

use super::bench::{Bench, Combinations, logic_of, scrambled};

#[derive(Debug, Default, Clone)]
pub(crate) struct Table {
    pub(crate) file: String,
    pub(crate) line: usize,
    pub(crate) parts: Vec<String>,
    pub(crate) source: String,
    sections: Vec<String>,
    inputs: Vec<String>,
    outputs: Vec<String>,
    pub(crate) rows: Vec<Row>,
}

#[derive(Debug, Clone)]
pub(crate) struct Row {
    line: usize,
    given: Vec<Given>,
    expected: Vec<String>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Given {
    Level(bool),
    Edge(bool),
    Any,
}

/// Reads the tables of a file. Blocks that start with another word than `table` are not for this reader.
pub(crate) fn read(file: &str, text: &str) -> Vec<Table> {
    let mut tables = Vec::new();
    let mut table: Option<Table> = None;
    let mut skipping = false;
    for (line, content) in (1..).zip(text.lines()) {
        let content = content.split('#').next().unwrap_or_default().trim();
        let (first, rest) = content.split_once(' ').unwrap_or((content, ""));
        let words = || rest.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        match (first, &mut table) {
            ("", _) => {}
            ("steps" | "count", _) => {
                tables.extend(table.take());
                skipping = true;
            }
            ("table", _) => {
                tables.extend(table.take());
                skipping = false;
                table = Some(Table { file: file.to_owned(), line, parts: words(), ..Table::default() });
            }
            ("source", Some(t)) => t.source = rest.trim().to_owned(),
            ("sections", Some(t)) => t.sections = words(),
            (_, Some(t)) if t.inputs.is_empty() => (t.inputs, t.outputs) = split(file, line, content),
            (_, Some(t)) => {
                let (given, expected) = split(file, line, content);
                assert_eq!(given.len(), t.inputs.len(), "{file}:{line}: inputs");
                assert_eq!(expected.len(), t.outputs.len(), "{file}:{line}: outputs");
                let given = given.iter().map(|g| match g.as_str() {
                    "H" => Given::Level(true),
                    "L" => Given::Level(false),
                    "↑" => Given::Edge(true),
                    "↓" => Given::Edge(false),
                    "X" => Given::Any,
                    other => panic!("{file}:{line}: {other}"),
                });
                t.rows.push(Row { line, given: given.collect(), expected });
            }
            (_, None) if skipping => {}
            (_, None) => panic!("{file}:{line}: no table"),
        }
    }
    tables.extend(table);
    for t in &tables {
        assert!(!t.source.is_empty() && !t.rows.is_empty(), "{file}:{}: no source or no rows", t.line);
    }
    tables
}

fn split(file: &str, line: usize, content: &str) -> (Vec<String>, Vec<String>) {
    let (left, right) = content.split_once('|').unwrap_or_else(|| panic!("{file}:{line}: no |"));
    let words = |side: &str| side.split_whitespace().map(str::to_owned).collect();
    (words(left), words(right))
}

impl Table {
    /// What the table says of each part it holds for, run from every start. Returns rows run and combinations tried.
    pub(crate) fn run(&self, report: &mut String) -> (usize, u64) {
        let done = self.parts.iter().map(|part| self.run_on(part, &logic_of(part), report));
        done.fold((0, 0), |all, one| (all.0 + one.0, all.1 + one.1))
    }

    /// The same for one part with this logic.
    pub(crate) fn run_on(&self, part: &str, logic: &Circuit, report: &mut String) -> (usize, u64) {
        let bench = Bench::of(part, logic);
        let sections = if self.sections.is_empty() { vec![String::new()] } else { self.sections.clone() };
        let runs = sections.iter().flat_map(|section| self.rows.iter().map(move |row| (section, row)));
        runs.fold((0, 0), |(rows, tried), (section, row)| {
            (rows + 1, tried + self.run_row(&bench, section, row, report))
        })
    }

    fn run_row(&self, bench: &Bench, section: &str, row: &Row, report: &mut String) -> u64 {
        let pin = |name: &String| name.replace('n', section);
        let mut given: Vec<(usize, Given)> =
            self.inputs.iter().map(|i| bench.port(&pin(i))).zip(row.given.iter().copied()).collect();
        for other in bench.inputs() {
            let port = bench.port(&other);
            let own_output = self.outputs.iter().any(|o| pin(o) == other);
            if !given.iter().any(|(p, _)| *p == port) && !own_output {
                given.push((port, Given::Any));
            }
        }
        let any: Vec<usize> = given.iter().filter(|(_, g)| *g == Given::Any).map(|(p, _)| *p).collect();
        let edge: Vec<(usize, u64)> = given.iter().filter_map(|&(p, g)| edge(g).map(|up| (p, word(up)))).collect();
        let cells = bench.free_cells();
        let holds = row.expected.iter().any(|e| e == "=");
        let combinations = Combinations::of(any.len() + cells.len());
        let (count, mut seed) = (combinations.total(), 0x2545_F491_4F6C_DD1D);
        for bits in combinations {
            let mut outside = vec![0; bench.machine.ports().len()];
            let mut held = vec![0; bench.machine.cells().len()];
            for &(port, g) in &given {
                outside[port] = match g {
                    Given::Level(high) => word(high),
                    Given::Edge(up) => word(!up),
                    Given::Any => 0,
                };
            }
            for (&port, &bits) in any.iter().zip(&bits) {
                outside[port] = bits;
            }
            for (&cell, &bits) in cells.iter().zip(&bits[any.len()..]) {
                held[cell] = bits;
            }
            let (before, restless) = bench.start(&outside, &held);
            let mut wrong = restless;
            let mut after = before.clone();
            let mut unknown = 0;
            if edge.is_empty() {
                wrong |= self.wrong(bench, section, row, &before, &before);
            }
            if holds && edge.is_empty() {
                let change: Vec<(usize, u64)> = any.iter().map(|&p| (p, scrambled(&mut seed))).collect();
                (after, _) = bench.step(&before, &change);
            } else if !edge.is_empty() {
                (after, unknown) = bench.step(&before, &edge);
            }
            wrong |= self.wrong(bench, section, row, &before, &after) | unknown;
            if wrong != 0 {
                let lane = wrong.trailing_zeros();
                let _ = writeln!(
                    report,
                    "{}:{}: {} {}",
                    self.file,
                    row.line,
                    bench.sheet.type_number,
                    self.describe(bench, section, &before, &after, lane)
                );
                return count;
            }
        }
        count
    }

    /// The runs in which an output is not what the row says.
    fn wrong(&self, bench: &Bench, section: &str, row: &Row, before: &Point<u64>, after: &Point<u64>) -> u64 {
        let mut wrong = 0;
        for (output, expected) in self.outputs.iter().zip(&row.expected) {
            let output = output.replace('n', section);
            let shows = bench.shows(after, &output);
            let is_high = |high: u64| (high & shows.reads_high()) | (!high & shows.reads_low());
            let was = |name: &str| level_before(bench, before, name);
            let right = match expected.as_str() {
                "H" => shows.reads_high(),
                "L" => shows.reads_low(),
                "Z" => !shows.driven,
                "=" => is_high(was(&output)),
                "~" => is_high(!was(&output)),
                "*" => u64::MAX,
                name => match name.strip_prefix('~') {
                    Some(name) => is_high(!was(&pin(name, section))),
                    None => is_high(was(&pin(name, section))),
                },
            };
            wrong |= !right;
        }
        wrong
    }

    fn describe(&self, bench: &Bench, section: &str, before: &Point<u64>, after: &Point<u64>, lane: u32) -> String {
        let mut text = String::new();
        for name in bench.inputs() {
            let at = |point: &Point<u64>| bench.machine.outside(point)[bench.port(&name)] >> lane & 1;
            let _ = write!(text, "{name}={}", at(before));
            if at(before) != at(after) {
                let _ = write!(text, "→{}", at(after));
            }
            text.push(' ');
        }
        text.push('|');
        for output in &self.outputs {
            let name = output.replace('n', section);
            let shown = |point: &Point<u64>| {
                let shows = bench.shows(point, &name);
                match (shows.driven >> lane & 1, shows.high >> lane & 1) {
                    (0, _) => 'Z',
                    (_, 0) => 'L',
                    _ => 'H',
                }
            };
            let _ = write!(text, " {name}={}→{}", shown(before), shown(after));
        }
        text
    }
}

/// The level of a pin: what the part drives, or what stands there from outside.
pub(crate) fn level_before(bench: &Bench, point: &Point<u64>, name: &str) -> u64 {
    let outside = bench.machine.outside(point)[bench.port(name)];
    if !bench.outputs().iter().any(|o| o == name) {
        return outside;
    }
    let shows = bench.shows(point, name);
    if shows.open_collector { shows.reads_high() } else { (shows.driven & shows.high) | (!shows.driven & outside) }
}

/// The pin that a word of a table stands for: `@` tells the pin H from the level H.
fn pin(word: &str, section: &str) -> String {
    word.trim_start_matches('@').replace('n', section)
}

fn edge(given: Given) -> Option<bool> {
    match given {
        Given::Edge(up) => Some(up),
        Given::Level(_) | Given::Any => None,
    }
}

fn word(high: bool) -> u64 {
    if high { u64::MAX } else { 0 }
}
