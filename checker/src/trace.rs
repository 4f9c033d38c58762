//! The trace: one row for each pin, read into packages and nets, and built with the checker's own parts.
use std::collections::{BTreeMap, HashMap};

use anyhow::{Context, Result, bail, ensure};
use petgraph::unionfind::UnionFind;

use crate::model::{Model, Wire};
use crate::part::{Library, Role};
use crate::reset;

/// A package as traced.
#[derive(Clone, Debug)]
struct Package {
    /// What is printed beside it.
    reference: String,
    /// Its type or the word for it.
    part: String,
    /// The first word of that, in small letters.
    word: String,
    /// Pins with the numbers of the nets they are on; nothing for an open one.
    pins: Vec<(String, Option<usize>)>,
}

/// A trace.
#[derive(Clone, Debug, Default)]
pub struct Trace {
    packages: Vec<Package>,
    /// The names of nets, in the sheet's order.
    names: Vec<String>,
}

/// A pin's number without leading zeros, letters as capitals.
pub fn label(text: &str) -> String {
    let text = text.trim();
    match text.parse::<u64>() {
        Ok(number) if text.bytes().all(|b| b.is_ascii_digit()) => number.to_string(),
        _ => text.to_ascii_uppercase(),
    }
}

fn rail(net: &str) -> Option<bool> {
    match net.to_ascii_uppercase().as_str() {
        "VCC" | "+5V" | "5V" | "VDD" | "+3V3" | "3V3" => Some(true),
        "GND" | "0V" | "VSS" | "DGND" | "AGND" => Some(false),
        _ => None,
    }
}

fn other_supply(net: &str) -> bool {
    let upper = net.to_ascii_uppercase();
    let digits = upper.strip_suffix('V').and_then(|rest| rest.strip_prefix(['+', '-']));
    rail(net).is_none() && digits.is_some_and(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit() || b == b'.'))
}

impl Trace {
    /// Reads a trace.
    ///
    /// # Errors
    /// The row that can't be read, by its line.
    pub fn read(text: &str) -> Result<Trace> {
        let text = text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n");
        let head = text.lines().find(|l| !l.trim().is_empty() && !l.starts_with('#')).unwrap_or_default();
        let count = |d: u8| head.bytes().filter(|&b| b == d).count();
        let delimiter = [b';', b'\t'].into_iter().fold(b',', |best, d| if count(d) > count(best) { d } else { best });
        let mut rows = csv::ReaderBuilder::new();
        rows.flexible(true).trim(csv::Trim::All).comment(Some(b'#')).delimiter(delimiter);
        let mut rows = rows.from_reader(text.as_bytes());
        const FAULT: &str = "the trace can't be read";
        let head = rows.headers().context(FAULT)?.clone();
        let find = |name: &str| {
            let found = head.iter().position(|c| c.eq_ignore_ascii_case(name));
            found.with_context(|| format!("the head of the trace has no column `{name}`"))
        };
        let columns = [find("ref")?, find("part")?, find("pin")?, find("net")?];
        let (mut trace, mut at) = (Trace::default(), HashMap::new());
        for record in rows.into_records() {
            let record = record.context(FAULT)?;
            let line = record.position().map_or(0, csv::Position::line);
            let [reference, part, pin, net] = columns.map(|i| record.get(i).unwrap_or_default());
            let is = |text: &str, word: &str| text.eq_ignore_ascii_case(word);
            if record.iter().all(str::is_empty) {
                continue;
            }
            let whole = !is(net, "untraced") && !is(part, "untraced");
            ensure!(whole, "trace line {line}: not traced to its end, and the checker checks whole traces only");
            let package = *at.entry(reference.to_uppercase()).or_insert_with(|| {
                let word = part.split_whitespace().next().unwrap_or_default().to_lowercase();
                let (reference, part) = (reference.to_owned(), part.to_owned());
                trace.packages.push(Package { reference, part, word, pins: Vec::new() });
                trace.packages.len() - 1
            });
            let package = &mut trace.packages[package];
            let (own, told) = (package.part.to_lowercase(), part.to_lowercase());
            let one = part.is_empty() || own.split_whitespace().eq(told.split_whitespace());
            ensure!(one, "trace line {line}: {reference} is two parts");
            if is(pin, "others") {
                continue;
            }
            let pin = label(pin);
            let first = package.pins.iter().all(|(p, _)| *p != pin);
            ensure!(
                first && !net.is_empty() && !pin.is_empty(),
                "trace line {line}: {reference} pin {pin}: no net, or two rows"
            );
            let number = trace.names.iter().position(|n| n == net).unwrap_or(trace.names.len());
            if !is(net, "open") && number == trace.names.len() {
                trace.names.push(net.to_owned());
            }
            package.pins.push((pin, (!is(net, "open")).then_some(number)));
        }
        ensure!(!trace.packages.is_empty(), "the trace has no rows");
        Ok(trace)
    }

    /// The contacts that carry a supply rail.
    pub fn supplies(&self) -> BTreeMap<String, bool> {
        let Ok(nets) = Nets::of(self) else { return BTreeMap::new() };
        self.contacts().filter_map(|(pin, net)| Some((pin.clone(), nets.rail((*net)?)?))).collect()
    }

    fn contacts(&self) -> impl Iterator<Item = &(String, Option<usize>)> {
        self.packages.iter().filter(|p| p.word == "contacts").flat_map(|p| &p.pins)
    }

    /// Builds the circuit of this trace. Where a part stays, the nets between it and logic are contacts.
    ///
    /// # Errors
    /// What the checker has no model for, by name.
    pub fn model(&self, library: &Library) -> Result<Model> {
        let mut nets = Nets::of(self)?;
        nets.look(library)?;
        nets.series()?;
        let mut model = Model::default();
        let wires = nets.wires(&mut model)?;
        for &(net, ..) in &nets.pulls {
            if let Wire::Net(n) = wires[net] {
                model.nets[n].pull = Some(nets.pull(net)?);
            }
        }
        let logic = |net: usize| nets.facts(net) & (READ | DRIVEN) != 0;
        let mut joined: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for (pin, net) in self.contacts() {
            if net.is_some_and(|n| nets.facts(n) & STAYS != 0 && !logic(n)) {
                continue;
            }
            match net.map_or_else(|| Wire::Net(model.net(format!("contact {pin}"))), |n| wires[n]) {
                Wire::Net(n) if model.nets[n].contact.is_some() => joined.entry(n).or_default().push(pin.clone()),
                Wire::Net(n) => model.contact(pin.clone(), n),
                _ => {}
            }
        }
        for Package { reference, part, word, pins } in &self.packages {
            if word == "stays" {
                for (pin, net) in pins.iter().filter_map(|(pin, net)| Some((pin, net.filter(|&n| logic(n))?))) {
                    if let Wire::Net(n) = wires[net]
                        && model.nets[n].contact.is_none()
                    {
                        model.contact(format!("{reference}-{pin}").to_uppercase(), n);
                    }
                }
            } else if !PASSIVE.contains(&word.as_str()) {
                let part = library.part(part).with_context(|| reference.clone())?;
                let other = pins.iter().find(|(n, _)| part.pins.iter().all(|p| p.number != *n));
                ensure!(other.is_none(), "{reference} has no pin {}", other.map_or("", |(pin, _)| pin));
                let at = |pin: &str| pins.iter().find(|p| p.0 == pin).and_then(|p| p.1);
                model.place(reference, &part, |pin| at(pin).map_or(Wire::Open, |n| wires[n]))?;
            }
        }
        joined.iter().for_each(|(&net, others)| model.join(net, others));
        for (who, net, high) in &nets.late {
            let Wire::Net(n) = wires[*net] else { continue };
            let refused = || format!("{who} on a signal, and the checker has no rule for that");
            let sound = model.nets[n].pull == Some(!high) && nets.facts(*net) == READ;
            let why = "no resistor to the other rail charges it, or more than inputs of logic is on it";
            ensure!(sound, "{}: {why}", refused());
            for (e, level) in reset::starts(&model, n, *high).with_context(refused)? {
                model.elements[e].start = Some(level);
            }
        }
        Ok(model)
    }
}

/// What is no logic.
const PASSIVE: [&str; 5] = ["resistor", "jumper", "capacitor", "contacts", "stays"];

/// What is on a net: an input, an output, a contact, a part that stays.
const READ: u8 = 1;
const DRIVEN: u8 = 2;
const CONTACT: u8 = 4;
const STAYS: u8 = 8;

/// The nets of a trace.
struct Nets<'t> {
    trace: &'t Trace,
    /// Which names are one net.
    one: UnionFind<usize>,
    /// What is on each name.
    facts: Vec<u8>,
    /// Resistors to a rail: the net, whether up, ohms; and from net to net: whose, the ends, ohms.
    pulls: Vec<(usize, bool, Option<f64>)>,
    series: Vec<(&'t str, [usize; 2], Option<f64>)>,
    /// Capacitors from a net to a rail: whose, the net, whether it is the positive one.
    late: Vec<(&'t str, usize, bool)>,
}

impl<'t> Nets<'t> {
    fn of(trace: &'t Trace) -> Result<Nets<'t>> {
        let (one, facts) = (UnionFind::new(trace.names.len()), vec![0; trace.names.len()]);
        let (pulls, series, late) = Default::default();
        let mut nets = Nets { trace, one, facts, pulls, series, late };
        trace.packages.iter().try_for_each(|p| nets.passive(p))?;
        Ok(nets)
    }

    fn same(&self, net: usize) -> impl Iterator<Item = usize> {
        (0..self.trace.names.len()).filter(move |&other| self.one.equiv(net, other))
    }

    fn raw(&self, name: usize) -> Option<bool> {
        rail(&self.trace.names[name])
    }

    /// The name that stands for all of a net: a rail, else what comes first in the sheet.
    fn lead(&self, net: usize) -> usize {
        self.same(net).min_by_key(|&n| (self.raw(n).is_none(), n)).unwrap_or(net)
    }

    fn rail(&self, net: usize) -> Option<bool> {
        self.raw(self.lead(net))
    }

    fn facts(&self, net: usize) -> u8 {
        self.same(net).fold(0, |all, n| all | self.facts[n])
    }

    /// What a jumper, a resistor or a capacitor joins, pulls or makes late.
    fn passive(&mut self, package: &'t Package) -> Result<()> {
        let lower = package.part.to_lowercase();
        let words: Vec<&str> = lower.split_whitespace().collect();
        let refused = || format!("{}: the checker does not know `{}`", package.reference, package.part);
        let number = |text: &str| text.parse::<u32>().with_context(refused);
        let (mut links, mut each): (Vec<(String, String)>, _) = (Vec::new(), None);
        match words.as_slice() {
            ["jumper"] => {
                let pins: Vec<&String> = package.pins.iter().filter(|p| p.1.is_some()).map(|p| &p.0).collect();
                links.extend(pins.windows(2).map(|two| (two[0].clone(), two[1].clone())));
            }
            ["jumper", "open"] => {}
            ["jumper", pair] => {
                let (a, b) = pair.split_once('-').with_context(refused)?;
                links.push((label(a), label(b)));
            }
            ["capacitor", rest @ ..] if !rest.contains(&"ignored") => {
                let nets: Vec<usize> = package.pins.iter().filter_map(|(_, net)| *net).collect();
                match nets.iter().map(|&n| self.raw(n)).collect::<Vec<_>>()[..] {
                    [None, Some(high)] => self.late.push((&package.reference, nets[0], high)),
                    [Some(high), None] => self.late.push((&package.reference, nets[1], high)),
                    ref rails if rails.iter().all(Option::is_some) => {}
                    _ => bail!(refused()),
                }
            }
            ["resistor", "network", count, how @ ..] => {
                let (count, value) = count.split_once('x').with_context(refused)?;
                let n = number(count)?;
                each = Some(ohms(value).with_context(refused)?);
                let pairs: Vec<(u32, u32)> = match how {
                    ["common", pin] => {
                        let common = number(pin)?;
                        (1..=n + 1).filter(|&p| p != common).map(|p| (common, p)).collect()
                    }
                    ["adjacent"] => (0..n).map(|k| (2 * k + 1, 2 * k + 2)).collect(),
                    ["opposite"] => (1..=n).map(|k| (k, 2 * n + 1 - k)).collect(),
                    _ => bail!(refused()),
                };
                links.extend(pairs.into_iter().map(|(a, b)| (a.to_string(), b.to_string())));
            }
            ["resistor", value @ ..] => {
                let value = value.concat();
                each = if value.is_empty() { None } else { Some(ohms(&value).with_context(refused)?) };
                links.push(("1".to_owned(), "2".to_owned()));
            }
            _ => {}
        }
        for (a, b) in links {
            let at = |pin: &str| package.pins.iter().find(|p| p.0 == pin).and_then(|p| p.1);
            let (Some(a), Some(b)) = (at(&a), at(&b)) else { continue };
            match (self.raw(a), self.raw(b)) {
                _ if words.first() == Some(&"jumper") => drop(self.one.union(a, b)),
                (Some(_), Some(_)) => {}
                (Some(up), None) => self.pulls.push((b, up, each)),
                (None, Some(up)) => self.pulls.push((a, up, each)),
                (None, None) if each == Some(0.0) => drop(self.one.union(a, b)),
                (None, None) => self.series.push((&package.reference, [a, b], each)),
            }
        }
        Ok(())
    }

    /// Finds what is on each net.
    fn look(&mut self, library: &Library) -> Result<()> {
        for Package { part, word, pins, .. } in &self.trace.packages {
            let part = (!PASSIVE.contains(&word.as_str())).then(|| library.part(part)).transpose()?;
            for (pin, net) in pins.iter().filter_map(|(pin, net)| Some((pin, (*net)?))) {
                let role = part.as_ref().and_then(|p| p.pins.iter().find(|p| p.number == *pin)).map(|p| p.role);
                self.facts[net] |= match (role, word.as_str()) {
                    (Some(Role::In), _) => READ,
                    (Some(Role::Bus), _) => READ | DRIVEN,
                    (Some(Role::Out | Role::Tri | Role::Oc), _) => DRIVEN,
                    (_, "contacts") => CONTACT,
                    (_, "stays") => STAYS,
                    _ => 0,
                };
            }
        }
        Ok(())
    }

    /// Which nets the resistors between them join: those behind which nothing but inputs is, and those below 1 kΩ in a line
    /// that can let go, or to the outside.
    fn series(&mut self) -> Result<()> {
        for (who, [a, b], ohms) in std::mem::take(&mut self.series) {
            let (x, y) = (self.facts(a), self.facts(b));
            let firm = ohms.is_none_or(|r| r < 1_000.0);
            let outside = |facts: u8| facts & (CONTACT | STAYS) != 0;
            let joins = match (x & DRIVEN != 0, y & DRIVEN != 0) {
                _ if self.one.equiv(a, b) => true,
                (false, false) => !(outside(x) && outside(y)),
                (true, true) => firm,
                (one, _) => {
                    let far = if one { y } else { x };
                    !outside(far) || firm && (far & READ == 0 || ohms.is_some_and(|r| r <= 100.0))
                }
            };
            if !joins {
                let [a, b] = [a, b].map(|n| &self.trace.names[n]);
                bail!("{who}: the checker has no rule for a resistor between {a} and {b}");
            }
            self.one.union(a, b);
        }
        Ok(())
    }

    /// Where each name is in the circuit; a supply of another voltage is an error.
    fn wires(&self, model: &mut Model) -> Result<Vec<Wire>> {
        let (mut wires, mut found) = (Vec::new(), HashMap::new());
        let names = &self.trace.names;
        for (n, name) in names.iter().enumerate() {
            let lead = self.lead(n);
            ensure!(!other_supply(&names[lead]), "the supply {}: the checker knows VCC and GND only", names[lead]);
            let net = || {
                let contact = self.trace.contacts().filter_map(|c| c.1).find(|&c| self.one.equiv(c, n));
                let shown = &names[contact.unwrap_or(lead)];
                let net = *found.entry(lead).or_insert_with(|| model.net(shown));
                model.also.entry(name.clone()).or_insert(net);
                Wire::Net(net)
            };
            wires.push(self.rail(n).map_or_else(net, Wire::Rail));
        }
        Ok(wires)
    }

    /// Where the resistors of a net take it: VIH and VIL of TTL, 2.0 V and 0.8 V, from memory.
    fn pull(&self, net: usize) -> Result<bool> {
        let of = |way: bool| self.pulls.iter().filter(move |(n, up, _)| self.one.equiv(*n, net) && *up == way);
        if let Some(way) = [true, false].into_iter().find(|&way| of(!way).next().is_none()) {
            return Ok(way);
        }
        let conductance = |up: bool| of(up).map(|(_, _, r)| r.map(|r| 1.0 / r)).sum::<Option<f64>>();
        let name = &self.trace.names[net];
        let (Some(up), Some(down)) = (conductance(true), conductance(false)) else {
            bail!("resistors pull {name} both ways, and a value is missing");
        };
        match 5.0 * up / (up + down) {
            v if v >= 2.0 => Ok(true),
            v if v <= 0.8 => Ok(false),
            _ => bail!("resistors pull {name} between the levels"),
        }
    }
}

/// `4k7`, `330`, `2.2k`: a resistance in ohms.
fn ohms(text: &str) -> Option<f64> {
    let lower = text.to_lowercase().replace(',', ".");
    let Some(at) = lower.find(|c: char| c.is_ascii_alphabetic()) else { return lower.parse().ok() };
    let (whole, rest) = lower.split_at(at);
    let factor = match rest.chars().next()? {
        'r' => 1.0,
        'k' => 1e3,
        'm' => 1e6,
        _ => return None,
    };
    let part = rest.get(1..).filter(|p| p.bytes().all(|b| b.is_ascii_digit()))?;
    format!("{whole}.{part}0").parse::<f64>().ok().or_else(|| whole.parse().ok()).map(|n| n * factor)
}
