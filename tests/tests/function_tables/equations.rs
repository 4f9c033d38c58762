//! Parts that only combine levels, against their functions as equations over pin names, for all inputs.
//!
//! `!` binds tightest, then `^`, `&`, `|`. `Y.oe = e`: Y drives only while `e`. A name that is no pin is a value of its own
//! line. An open collector whose value is high is off.
use std::collections::BTreeMap;
use std::fmt::Write;

use gluewright::circuit::Circuit;

use super::bench::{Bench, Combinations, logic_of};

/// One part with its equations, in the order of the file.
pub(crate) struct Equations<'a> {
    pub(crate) part: &'a str,
    pub(crate) lines: Vec<(usize, &'a str, &'a str)>,
}

pub(crate) fn read(text: &str) -> Vec<Equations<'_>> {
    let mut all: Vec<Equations> = Vec::new();
    for (line, content) in (1..).zip(text.lines()) {
        let content = content.split('#').next().unwrap_or_default().trim();
        if let Some(part) = content.strip_prefix("part ") {
            all.push(Equations { part: part.trim(), lines: Vec::new() });
        } else if let (Some((name, value)), Some(last)) = (content.split_once('='), all.last_mut()) {
            last.lines.push((line, name.trim(), value.trim()));
        }
    }
    all
}

impl Equations<'_> {
    /// Outputs compared and combinations tried.
    pub(crate) fn run(&self, report: &mut String) -> (usize, u64) {
        self.run_on(&logic_of(self.part), report)
    }

    /// The same for this logic.
    pub(crate) fn run_on(&self, logic: &Circuit, report: &mut String) -> (usize, u64) {
        let bench = Bench::of(self.part, logic);
        // where a line could drive itself the machine keeps a cell; what it held makes no difference
        let (inputs, cells) = (bench.inputs(), bench.free_cells());
        let combinations = Combinations::of(inputs.len() + cells.len());
        let total = combinations.total();
        let outputs = bench.outputs();
        for output in &outputs {
            if !self.lines.iter().any(|(_, name, _)| name == output) {
                let _ = writeln!(report, "equations.txt: {} has no equation for {output}", self.part);
            }
        }
        for bits in combinations {
            let mut outside = vec![0; bench.machine.ports().len()];
            let mut values: BTreeMap<&str, u64> = BTreeMap::new();
            for (name, &bits) in inputs.iter().zip(&bits) {
                outside[bench.port(name)] = bits;
                values.insert(name, bits);
            }
            let mut held = vec![0; bench.machine.cells().len()];
            for (&cell, &bits) in cells.iter().zip(&bits[inputs.len()..]) {
                held[cell] = bits;
            }
            let (point, restless) = bench.start(&outside, &held);
            let mut results: BTreeMap<&str, (usize, u64)> = BTreeMap::new();
            for &(line, name, text) in &self.lines {
                let value = Formula::read(text).value(&values);
                results.insert(name, (line, value));
                // an output of a both-way pin is read as what stands on its wire
                if !inputs.iter().any(|i| i == name) {
                    values.insert(name, value);
                }
            }
            for output in &outputs {
                let Some(&(line, value)) = results.get(output.as_str()) else { continue };
                let enabled = results.get(format!("{output}.oe").as_str()).map_or(u64::MAX, |r| r.1);
                let shows = bench.shows(&point, output);
                let drives = if shows.open_collector { enabled & !value } else { enabled };
                let wrong = restless | (shows.driven ^ drives) | (drives & (shows.high ^ value));
                if wrong != 0 {
                    let lane = wrong.trailing_zeros();
                    let levels: Vec<String> =
                        inputs.iter().map(|i| format!("{i}={}", outside[bench.port(i)] >> lane & 1)).collect();
                    let _ = writeln!(report, "equations.txt:{line}: {} {output} at {}", self.part, levels.join(" "));
                    return (outputs.len(), total);
                }
            }
        }
        (outputs.len(), total)
    }
}

/// A value over names.
#[derive(Debug)]
pub(crate) enum Formula {
    Name(String),
    Not(Box<Formula>),
    And(Box<Formula>, Box<Formula>),
    Or(Box<Formula>, Box<Formula>),
    Xor(Box<Formula>, Box<Formula>),
}

impl Formula {
    pub(crate) fn read(text: &str) -> Self {
        let mut reader = Reader { text };
        let formula = reader.or();
        assert!(reader.text.trim().is_empty(), "{text}: {} is left over", reader.text);
        formula
    }

    /// Its value in 64 runs.
    fn value(&self, of: &BTreeMap<&str, u64>) -> u64 {
        match self {
            Formula::Name(name) => *of.get(name.as_str()).unwrap_or_else(|| panic!("no {name:?}")),
            Formula::Not(a) => !a.value(of),
            Formula::And(a, b) => a.value(of) & b.value(of),
            Formula::Or(a, b) => a.value(of) | b.value(of),
            Formula::Xor(a, b) => a.value(of) ^ b.value(of),
        }
    }
}

struct Reader<'a> {
    text: &'a str,
}

impl Reader<'_> {
    fn sign(&mut self, sign: char) -> bool {
        self.text = self.text.trim_start();
        let rest = self.text.strip_prefix(sign);
        self.text = rest.unwrap_or(self.text);
        rest.is_some()
    }

    fn or(&mut self) -> Formula {
        let mut value = self.and();
        while self.sign('|') {
            value = Formula::Or(Box::new(value), Box::new(self.and()));
        }
        value
    }

    fn and(&mut self) -> Formula {
        let mut value = self.xor();
        while self.sign('&') {
            value = Formula::And(Box::new(value), Box::new(self.xor()));
        }
        value
    }

    fn xor(&mut self) -> Formula {
        let mut value = self.not();
        while self.sign('^') {
            value = Formula::Xor(Box::new(value), Box::new(self.not()));
        }
        value
    }

    fn not(&mut self) -> Formula {
        if self.sign('!') {
            return Formula::Not(Box::new(self.not()));
        }
        if self.sign('(') {
            let value = self.or();
            assert!(self.sign(')'), "no ) before {:?}", self.text);
            return value;
        }
        let end = self.text.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(self.text.len());
        let (name, rest) = self.text.split_at(end);
        assert!(!name.is_empty(), "a name is missing before {rest:?}");
        self.text = rest;
        Formula::Name(name.to_owned())
    }
}
