//! Slips of the pen: one word of a source left out, added or taken for another, so that it still compiles.
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::names::{Field, Named, conditions, fields, wiring};
use super::reach::Reach;
use super::tokens::Text;

/// A source with a slip in it.
#[derive(Clone)]
pub(crate) struct Slip {
    pub(crate) kind: &'static str,
    /// The first line that changed.
    pub(crate) line: usize,
    pub(crate) words: String,
    pub(crate) text: String,
}

/// One slip, as what stands in the place of what.
#[derive(Clone)]
pub(crate) struct Made {
    kind: &'static str,
    edits: Vec<(Range<usize>, String)>,
}

/// A source without what is not the circuit, every line at its place.
pub(crate) fn circuit_alone(source: &str) -> String {
    let source = source.split("#[cfg(test)]").next().unwrap_or_default();
    let mut out = String::new();
    let mut skips = false;
    for line in source.lines() {
        skips |= line.starts_with("pub fn lost_");
        if !skips && !line.starts_with("//!") && !line.starts_with("///") {
            out.push_str(line);
        }
        out.push('\n');
        skips &= line != "}";
    }
    out
}

/// Every slip.
pub(crate) fn all(source: &str) -> Vec<Made> {
    let text = Text::of(source);
    let mut maker =
        Maker { fields: fields(&text), conditions: conditions(&text), wiring: wiring(&text), text, all: Vec::new() };
    maker.formulas();
    maker.words();
    maker.definitions();
    maker.declarations();
    maker.contacts();
    maker.all
}

/// At most this many of each kind, spread over the source.
pub(crate) fn some_of_each_kind(all: &[Made], most: usize) -> Vec<Made> {
    let mut by_kind: BTreeMap<&str, Vec<&Made>> = BTreeMap::new();
    for made in all {
        by_kind.entry(made.kind).or_default().push(made);
    }
    let spread = |of: Vec<&Made>| -> Vec<Made> {
        let count = of.len().min(most);
        (0..count).map(|k| of[(2 * k + 1) * of.len() / (2 * count)].clone()).collect()
    };
    by_kind.into_values().flat_map(spread).collect()
}

/// At most this many pairs of slips in different lines.
pub(crate) fn pairs(all: &[Made], source: &str, most: usize) -> Vec<Made> {
    let lines = |m: &Made| m.edits.iter().map(|e| line(source, e.0.start)).collect::<BTreeSet<_>>();
    drawn_pairs("two slips, any lines", all, most, |a, b| a.kind != b.kind && lines(a).is_disjoint(&lines(b)))
}

/// At most this many pairs of slips on which different outputs depend.
pub(crate) fn pairs_apart(all: &[Made], source: &str, most: usize) -> Vec<Made> {
    let reach = Reach::of(source);
    let outputs = |m: &Made| reach.outputs(&m.edits.iter().map(|e| e.0.clone()).collect::<Vec<_>>());
    let told: Vec<Made> = all.iter().filter(|m| !outputs(m).is_empty()).cloned().collect();
    drawn_pairs("two slips, different cones", &told, most, |a, b| outputs(a).is_disjoint(&outputs(b)))
}

fn drawn_pairs(kind: &'static str, all: &[Made], most: usize, fits: impl Fn(&Made, &Made) -> bool) -> Vec<Made> {
    let mut state: u64 = 1984;
    let mut drawn = |below: usize| {
        // the multiplier and increment of Knuth's MMIX generator
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let (mut pairs, mut seen) = (Vec::new(), BTreeSet::new());
    for _ in 0..40 * most {
        let (i, k) = (drawn(all.len()), drawn(all.len()));
        let (a, b) = (&all[i], &all[k]);
        if pairs.len() < most && fits(a, b) && seen.insert((i.min(k), i.max(k))) {
            pairs.push(Made { kind, edits: a.edits.iter().chain(&b.edits).cloned().collect() });
        }
    }
    pairs
}

fn line(source: &str, at: usize) -> usize {
    source[..at].matches('\n').count() + 1
}

impl Made {
    /// The source with the slip.
    pub(crate) fn write(mut self, source: &str) -> Slip {
        self.edits.sort_by_key(|e| e.0.start);
        let first = self.edits.first().map_or(0, |e| e.0.start);
        let words: Vec<String> = self.edits.iter().map(|(at, is)| words(source, at, is)).collect();
        let mut text = source.to_owned();
        for (at, is) in self.edits.iter().rev() {
            text.replace_range(at.clone(), is);
        }
        Slip { kind: self.kind, line: line(source, first), words: words.join("; "), text }
    }
}

/// The line as it reads with the slip.
fn words(source: &str, at: &Range<usize>, is: &str) -> String {
    let from = source[..at.start].rfind('\n').map_or(0, |n| n + 1);
    let to = source[at.end..].find('\n').map_or(source.len(), |n| at.end + n);
    format!("{}«{is}»{}", source[from..at.start].trim_start(), &source[at.end..to])
}

struct Maker<'t> {
    text: Text<'t>,
    fields: Vec<Field<'t>>,
    conditions: Vec<Named<'t>>,
    wiring: Range<usize>,
    all: Vec<Made>,
}

impl<'t> Maker<'t> {
    fn add(&mut self, kind: &'static str, edits: impl IntoIterator<Item = (Range<usize>, String)>) {
        self.all.push(Made { kind, edits: edits.into_iter().collect() });
    }

    /// Tokens become a text.
    fn put(&mut self, kind: &'static str, tokens: Range<usize>, is: &str) {
        let at = self.text.bytes(tokens);
        self.add(kind, [(at, is.to_owned())]);
    }

    fn field(&self, name: &str) -> Option<&Field<'t>> {
        self.fields.iter().find(|f| f.name == name)
    }

    /// `!`, `&` and `|`, factors and alternatives.
    fn formulas(&mut self) {
        let starts: Vec<usize> = self.wiring.clone().filter(|&k| self.text.begins(k)).collect();
        for start in starts {
            let sum = self.text.sum(start);
            let is_formula = sum.iter().map(Vec::len).sum::<usize>() > 1;
            for product in &sum {
                for (n, operand) in product.iter().enumerate() {
                    let (from, to) = (operand.start, operand.end);
                    match self.text.word(from) {
                        "!" => self.put("`!` dropped", from..from + 1, ""),
                        _ if is_formula => {
                            let at = self.text.tokens[from].at.start;
                            self.add("`!` added", [(at..at, "!".to_owned())]);
                        }
                        _ => {}
                    }
                    if product.len() > 1 {
                        let dropped = if n == 0 { from..to + 1 } else { from - 1..to };
                        self.put("factor dropped", dropped, "");
                    }
                    if n > 0 {
                        self.put("`|` for `&`", from - 1..from, "|");
                    }
                }
                if is_formula {
                    self.condition_added(product);
                }
            }
            for (n, product) in sum.iter().enumerate() {
                let (from, to) = (product[0].start, product[product.len() - 1].end);
                if sum.len() > 1 {
                    let dropped = if n == 0 { from..to + 1 } else { from - 1..to };
                    self.put("alternative dropped", dropped, "");
                }
                if n > 0 {
                    self.put("`&` for `|`", from - 1..from, "&");
                }
            }
        }
    }

    /// A condition too many.
    fn condition_added(&mut self, product: &[Range<usize>]) {
        let said: Vec<&str> = product.iter().map(|o| self.text.said(o.clone()).trim_start_matches('!')).collect();
        let end = product[product.len() - 1].end;
        let mut known = self.conditions.iter().filter(|n| n.from < product[0].start && !said.contains(&n.name));
        let Some(name) = known.next_back().map(|n| n.name) else { return };
        let at = self.text.tokens[end - 1].at.end;
        self.add("factor added", [(at..at, format!(" & {name}"))]);
    }

    /// Single words: edges, levels, names, numbers, indices.
    fn words(&mut self) {
        for k in self.wiring.clone() {
            let other = match self.text.word(k) {
                "rises" => ("edge", "falls"),
                "falls" => ("edge", "rises"),
                "is_high" => ("level", "is_low"),
                "is_low" => ("level", "is_high"),
                _ => ("", ""),
            };
            if !other.0.is_empty() {
                self.put(other.0, k..k + 1, other.1);
            }
            self.name(k);
            let before = self.text.word(k - 1);
            if self.text.is_number(k) && before == "(" && self.text.word(k + 1) == ")" {
                let word = self.text.word(k);
                let digit = if word.ends_with('0') { "1" } else { "0" };
                let is = match word.strip_prefix("0b") {
                    Some(_) => format!("{}{digit}", &word[..word.len() - 1]),
                    None => word.parse::<u64>().map_or_else(|_| word.to_owned(), |n| (n ^ 1).to_string()),
                };
                self.put("number", k..k + 1, &is);
            }
            if before == "[" && self.text.word(k) == "i" && self.text.word(k - 4) == "self" {
                let kind = self.field(self.text.word(k - 2)).map_or("", |f| f.kind);
                let Some(count) = kind.rsplit("; ").next().and_then(|n| n.trim_end_matches(']').parse::<usize>().ok())
                else {
                    continue;
                };
                self.put("index", k..k + 1, &format!("{} - i", count - 1));
                if count > 2 {
                    self.put("index", k..k + 1, &format!("(i + 1) % {count}"));
                }
            }
        }
    }

    /// Another name of the same type.
    fn name(&mut self, k: usize) {
        let word = self.text.word(k);
        let (before, after) = (self.text.word(k - 1), self.text.word(k + 1));
        if before == "." && self.text.word(k - 2) == "self" && matches!(after, "." | "[") {
            let Some(kind) = self.field(word).map(|f| f.kind) else { return };
            let others = self.fields.iter().filter(|f| f.name != word && f.kind == kind);
            let names: Vec<&str> = others.map(|f| f.name).collect();
            for name in names {
                self.put("another signal", k..k + 1, name);
            }
        } else if before != "."
            && after != ":"
            && after != "("
            && self.conditions.iter().any(|n| n.name == word && n.from < k)
        {
            let others = self.conditions.iter().filter(|n| n.name != word && n.from < k);
            let names: Vec<&str> = others.map(|n| n.name).collect();
            for name in names {
                self.put("another condition", k..k + 1, name);
            }
        }
    }

    /// Clears, presets, holds, enables, latches.
    fn definitions(&mut self) {
        for k in self.wiring.clone() {
            let word = self.text.word(k);
            let end = if self.text.word(k + 1) == "(" { self.text.behind(k + 1) } else { continue };
            let is_method = self.text.word(k - 1) == ".";
            match word {
                "clear_while" | "preset_while" | "release_while" | "assert_while" if is_method => {
                    self.put("clear or preset dropped", k - 1..end, "");
                    let other = match word {
                        "clear_while" => "preset_while",
                        "preset_while" => "clear_while",
                        "release_while" => "assert_while",
                        _ => "release_while",
                    };
                    self.put("clear for preset", k..k + 1, other);
                }
                "load_if" => {
                    let comma = self.text.operand(k + 2).map_or(k, |o| o.end);
                    let at = self.text.bytes(k..end);
                    let value = self.text.said(comma + 1..end);
                    self.add("hold dropped", [(at, format!("load({value}"))]);
                }
                "drive_while" => self.enable_dropped(k, end),
                "open_while" if self.text.word(end + 1) == "follow" => {
                    let condition = self.text.said(k + 2..end - 1);
                    let edits = [
                        (self.text.bytes(k..end), format!("on(({condition}).begins())")),
                        (self.text.bytes(end + 1..end + 2), "load".to_owned()),
                    ];
                    self.add("register for latch", edits);
                }
                _ => {}
            }
        }
    }

    /// The field that is defined at a token.
    fn defined_at(&self, k: usize) -> Option<&Field<'t>> {
        let name = (self.wiring.start..k).rev().find(|&k| {
            self.text.word(k + 1) == ":" && self.text.is_name(k) && matches!(self.text.word(k - 1), "," | "{")
        })?;
        self.field(self.text.word(name))
    }

    fn enable_dropped(&mut self, k: usize, end: usize) {
        let Some(field) = self.defined_at(k).filter(|f| f.kind.contains("Output<")) else { return };
        let Some(at) = field.tokens.clone().find(|&k| self.text.word(k) == "ThreeState") else { return };
        let edits = [(self.text.bytes(k - 1..end), String::new()), (self.text.bytes(at - 1..at + 1), String::new())];
        self.add("enable dropped", edits);
    }

    /// Polarities and kinds of drivers.
    fn declarations(&mut self) {
        let tokens: Vec<(usize, String, String)> = self
            .fields
            .iter()
            .flat_map(|f| f.tokens.clone().map(|k| (k, f.kind.to_owned(), f.name.to_owned())))
            .collect();
        for (k, kind, name) in tokens {
            match self.text.word(k) {
                "ActiveLow" => self.put("declared polarity", k..k + 1, "ActiveHigh"),
                "ActiveHigh" => self.put("declared polarity", k..k + 1, "ActiveLow"),
                "OpenCollector" => self.put("kind of driver", k - 1..k + 1, ""),
                _ => {}
            }
            let is_gate = self.text.find(&[&name, ":", "assert_while"]).is_some();
            if kind == "Output<ActiveLow>" && self.text.word(k) == "ActiveLow" && is_gate {
                self.put("kind of driver", k..k + 1, "ActiveLow, OpenCollector");
            }
        }
    }

    /// Contacts exchanged, and arrays in the other order.
    fn contacts(&mut self) {
        let Some(open) = self.text.find(&["contacts", "("]).map(|k| k + 1) else { return };
        let single: Vec<usize> = (open..self.text.behind(open))
            .filter(|&k| self.text.word(k) == ":" && self.text.is_number(k + 1) && self.text.word(k + 2) == ",")
            .collect();
        for pair in single.windows(2) {
            let side = |k: usize| self.field(self.text.word(k - 1)).map(|f| f.kind.split('<').next());
            if side(pair[0]) == side(pair[1]) {
                let [a, b] = [pair[0] + 1, pair[1] + 1];
                let edits = [
                    (self.text.bytes(a..a + 1), self.text.word(b).to_owned()),
                    (self.text.bytes(b..b + 1), self.text.word(a).to_owned()),
                ];
                self.add("contacts exchanged", edits);
            }
        }
        for k in (open..self.text.behind(open)).filter(|&k| self.text.word(k) == "..=").collect::<Vec<_>>() {
            let is = format!("{}..={}", self.text.word(k + 1), self.text.word(k - 1));
            self.put("contacts in the other order", k - 1..k + 2, &is);
        }
    }
}
