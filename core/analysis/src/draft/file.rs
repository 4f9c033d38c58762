//! A draft as a file of Rust.
use std::collections::BTreeMap;
use std::fmt::Write;

use gluewright_kernel::circuit::{Circuit, Label, Pull, Rail};

use super::fields::{Drive, Field, Fields, Sense, Sort};
use super::names::of_value;
use super::wiring::{Definition, Wiring};
use super::{Draft, Form};

/// The longest line before it is broken.
const WIDTH: usize = 118;

/// Fields of one name, in the order of their indices: a single one, or an array.
struct Group<'f> {
    members: Vec<(usize, &'f Field)>,
}

impl Group<'_> {
    fn first(&self) -> Option<&Field> {
        self.members.first().map(|m| m.1)
    }

    fn is_array(&self) -> bool {
        self.first().is_some_and(|f| f.index.is_some())
    }
}

/// The draft as it is written.
pub(super) fn written(circuit: &Circuit, fields: &Fields, wiring: Wiring, form: &Form) -> Draft {
    let name = &form.name;
    let mut groups: Vec<Group<'_>> = Vec::new();
    for (i, f) in fields.all.iter().enumerate() {
        match groups
            .iter_mut()
            .find(|g| g.is_array() && g.first().is_some_and(|o| f.index.is_some() && o.name == f.name))
        {
            Some(g) => g.members.push((i, f)),
            None => groups.push(Group { members: vec![(i, f)] }),
        }
    }
    groups.iter_mut().for_each(|g| g.members.sort_by_key(|m| m.1.index));
    let mut remarks = Vec::new();
    let (mut of_supply, mut more) = (Vec::new(), Vec::new());
    for (rail, word) in [(Rail::Vcc, "vcc"), (Rail::Gnd, "gnd")] {
        let mut labels = circuit.supplies().iter().filter(|s| s.1 == rail).map(|s| &s.0);
        of_supply.extend(labels.next().map(|l| format!("{word} = {}", quoted(l))));
        more.extend(labels.map(|l| format!("contact {l} is a second {word}")));
    }
    remarks.extend(more);
    let supply = if of_supply.is_empty() { String::new() } else { format!("#[circuit({})]\n", of_supply.join(", ")) };
    let mut out = String::new();
    let _ = writeln!(
        out,
        "//! A first draft of the stand-in for what `{}` describes, written from the trace.\n//!\n\
         //! Edit it: give names and polarity their meaning, and prove it again after each change.",
        form.trace
    );
    if form.with_main {
        out += "use std::process::ExitCode;\n\n";
    }
    let is_plain = !form.others_stay && !form.printed_supplies;
    let reading = if is_plain { "" } else { ", Reading" };
    let _ = writeln!(out, "use gluewright::board::{{Board{reading}, TraceError}};");
    let idioms: Vec<&str> = wiring.idioms.iter().copied().collect();
    match &idioms[..] {
        [] => {}
        [one] => {
            let _ = writeln!(out, "use gluewright::idioms::{one};");
        }
        several => {
            let _ = writeln!(out, "use gluewright::idioms::{{{}}};", several.join(", "));
        }
    }
    out += "use gluewright::prelude::*;\n\n";
    let _ = write!(
        out,
        "/// The replacement: the contacts of the socket, and what stays inside.\n#[derive(Circuit)]\n{supply}"
    );
    let _ = writeln!(out, "pub struct {name} {{");
    for g in &groups {
        out += &field(g);
    }
    out += "}\n\n";
    let _ = writeln!(out, "impl Wiring for {name} {{\n    fn wire(&self) -> {name}Wiring {{");
    for l in &wiring.lets {
        let _ = writeln!(out, "        let {} = {};{}", l.name, l.value, from(l.packages.iter()));
    }
    let _ = writeln!(out, "        {name}Wiring {{");
    let definitions: BTreeMap<usize, &Definition> = wiring.definitions.iter().map(|d| (d.field, d)).collect();
    for g in &groups {
        let all: Vec<&Definition> = g.members.iter().filter_map(|m| definitions.get(&m.0).copied()).collect();
        if let Some(f) = g.first() {
            out += &definition(f, &all);
        }
    }
    out += "        }\n    }\n}\n\n";
    let board = of_value(name);
    out += &traced(&board, form);
    let (replacing, cut) = match &form.replaced[..] {
        [] => Default::default(),
        packages => {
            let at_boundary = "        let original = original.cut_to(&PACKAGES).expect(\"its packages are there\");\n";
            let words = format!("{packages:?}");
            (format!(".replacing({words})"), at_boundary.replace("PACKAGES", &words))
        }
    };
    if form.with_main {
        let job = format!("gluewright::job::<{name}>(traced_{board}()){replacing}.run()");
        let _ = writeln!(out, "fn main() -> ExitCode {{\n    {job}\n}}\n");
    }
    let _ = write!(
        out,
        "#[cfg(test)]\nmod tests {{\n    use super::*;\n\n    #[test]\n    fn draft_matches_the_trace() -> Result<(), Failure> \
         {{\n        let original = traced_{board}().expect(\"the trace is sound\");\n{cut}        println!(\"{{}}\", \
         prove::<{name}>().against(&original).run()?);\n        Ok(())\n    }}\n}}\n"
    );
    Draft { name: name.clone(), source: out, remarks }
}

/// The function that reads the trace.
fn traced(board: &str, form: &Form) -> String {
    let options = [(form.others_stay, ".others_stay()"), (form.printed_supplies, ".printed_supplies()")];
    let options: String = options.iter().filter(|o| o.0).map(|o| o.1).collect();
    let content = format!("include_str!({:?})", form.trace);
    let read = if options.is_empty() {
        format!("Board::from_csv({:?}, {content}, gluewright_parts::ttl())", form.trace)
    } else {
        format!("Reading::new(){options}.csv({:?}, {content}, gluewright_parts::ttl())", form.trace)
    };
    let what = if form.replaced.is_empty() { "original" } else { "whole board" };
    format!("/// The {what}, as traced.\npub fn traced_{board}() -> Result<Board, TraceError> {{\n    {read}\n}}\n\n")
}

fn quoted(label: &Label) -> String {
    label.number().filter(|n| *n > 0).map_or_else(|| format!("{:?}", label.as_str()), |n| n.to_string())
}

/// The labels of a field: a range where they follow each other.
fn labels(of: &[&Label]) -> String {
    let numbers: Option<Vec<u16>> = of.iter().map(|l| l.number()).collect();
    match (numbers.as_deref(), of) {
        (Some([first, .., last]), _) if numbers.iter().flatten().zip(*first..).all(|(n, k)| *n == k) => {
            format!("{first}..={last}")
        }
        _ => of.iter().map(|l| quoted(l)).collect::<Vec<_>>().join(", "),
    }
}

fn field(group: &Group<'_>) -> String {
    let Some(f) = group.first() else { return String::new() };
    let sense = match f.sense {
        Sense::Data => "Data",
        Sense::High => "ActiveHigh",
        Sense::Low => "ActiveLow",
        Sense::Clock => "Clock",
    };
    let drive = match f.drive {
        Drive::None | Drive::Always => "",
        Drive::ThreeState => ", ThreeState",
        Drive::OpenCollector => ", OpenCollector",
    };
    let kind = match f.sort {
        Sort::Input => format!("Input<{sense}>"),
        Sort::Output => format!("Output<{sense}{drive}>"),
        Sort::InOut => format!("InOut<{sense}{drive}>"),
        Sort::Register if f.sense == Sense::Data => "Buried<Register>".to_owned(),
        Sort::Register => format!("Buried<Register, {sense}>"),
        Sort::Latch if f.sense == Sense::Data => "Buried<Latch>".to_owned(),
        Sort::Latch => format!("Buried<Latch, {sense}>"),
        Sort::Node => format!("Buried<Node, {sense}>"),
    };
    let kind = if group.is_array() { format!("[{kind}; {}]", group.members.len()) } else { kind };
    let of: Vec<&Label> = group.members.iter().filter_map(|m| m.1.label.as_ref()).collect();
    let contact = if of.is_empty() {
        String::new()
    } else {
        let pull = match f.pull {
            Pull::None => "",
            Pull::Up => ", pull_up",
            Pull::Down => ", pull_down",
        };
        format!("    #[contact({}{pull})]\n", labels(&of))
    };
    let because = match (f.sense, f.because) {
        (Sense::Low, Some(because)) => format!(" // active low: {because}"),
        (Sense::High, Some(because)) => format!(" // active high: {because}"),
        (Sense::Clock, Some(because)) => format!(" // clock: {because}"),
        (Sense::Data, _) | (_, None) => String::new(),
    };
    format!("{contact}    {}: {kind},{because}\n", f.name)
}

/// The packages that something stands for, by their numbers.
fn from<'p>(packages: impl Iterator<Item = &'p String>) -> String {
    let mut all: Vec<&str> = packages.map(String::as_str).collect();
    all.sort_by_key(|p| (p.trim_end_matches(|c: char| c.is_ascii_digit()), p.len(), *p));
    all.dedup();
    if all.is_empty() { String::new() } else { format!(" // {}", all.join(", ")) }
}

fn definition(f: &Field, all: &[&Definition]) -> String {
    let [first, ..] = all else { return String::new() };
    let from = from(all.iter().flat_map(|d| &d.packages));
    if f.index.is_none() {
        return format!("            {}: {},{from}\n", f.name, first.text);
    }
    // the same for each, but for its number
    if all.iter().all(|d| d.by_number == first.by_number) {
        let (text, is_numbered) = &first.by_number;
        let number = if *is_numbered { "i" } else { "_" };
        return format!("            {}: each(|{number}| {text}),{from}\n", f.name);
    }
    let one_line = all.iter().map(|d| d.text.as_str()).collect::<Vec<_>>().join(", ");
    if one_line.len() < WIDTH - 30 {
        return format!("            {}: [{one_line}],{from}\n", f.name);
    }
    let lines: String = all.iter().map(|d| format!("                {},\n", d.text)).collect();
    format!("            {}: [{from}\n{lines}            ],\n", f.name)
}
