//! The trace: one row for each pin, read into packages and nets, and built with the checker's own parts.
use std::collections::{BTreeMap, HashMap};

use petgraph::unionfind::UnionFind;

use crate::model::{Model, Pull, Wire};
use crate::part::{Library, Role};
use crate::reset;

/// A package as traced.
#[derive(Clone, Debug)]
pub struct Package {
    /// What is printed beside it.
    pub reference: String,
    /// Its type or the word for it.
    pub part: String,
    /// Pins with the nets they are on; nothing for an open one.
    pub pins: Vec<(String, Option<String>)>,
}

/// A trace.
#[derive(Clone, Debug, Default)]
pub struct Trace {
    /// All packages, in order.
    pub packages: Vec<Package>,
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
    pub fn read(text: &str) -> Result<Trace, String> {
        let text = text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n");
        let head = text.lines().find(|l| !l.trim().is_empty() && !l.starts_with('#')).unwrap_or_default();
        let count = |d: u8| head.bytes().filter(|&b| b == d).count();
        let delimiter = [b';', b'\t'].into_iter().fold(b',', |best, d| if count(d) > count(best) { d } else { best });
        let mut rows = csv::ReaderBuilder::new();
        rows.has_headers(false).flexible(true).trim(csv::Trim::All).comment(Some(b'#')).delimiter(delimiter);
        let mut columns: Option<[usize; 4]> = None;
        let mut trace = Trace::default();
        let mut at: HashMap<String, usize> = HashMap::new();
        for record in rows.from_reader(text.as_bytes()).records() {
            let record = record.map_err(|e| format!("the trace can't be read: {e}"))?;
            let line = record.position().map_or(0, csv::Position::line);
            if record.iter().all(str::is_empty) {
                continue;
            }
            let Some(columns) = columns else {
                let find = |name: &str| {
                    let found = record.iter().position(|c| c.eq_ignore_ascii_case(name));
                    found.ok_or_else(|| format!("trace line {line}: the head has no column `{name}`"))
                };
                columns = Some([find("ref")?, find("part")?, find("pin")?, find("net")?]);
                continue;
            };
            let [reference, part, pin, net] = columns.map(|i| record.get(i).unwrap_or_default());
            let is = |text: &str, word: &str| text.eq_ignore_ascii_case(word);
            if is(net, "untraced") || is(part, "untraced") {
                let why = "not traced to its end, and the checker checks whole traces only";
                return Err(format!("trace line {line}: {why}"));
            }
            let package = *at.entry(reference.to_uppercase()).or_insert_with(|| {
                let (reference, part) = (reference.to_owned(), part.to_owned());
                trace.packages.push(Package { reference, part, pins: Vec::new() });
                trace.packages.len() - 1
            });
            let package = &mut trace.packages[package];
            let (own, told) = (package.part.to_lowercase(), part.to_lowercase());
            if !part.is_empty() && !own.split_whitespace().eq(told.split_whitespace()) {
                return Err(format!("trace line {line}: {reference} is two parts"));
            }
            if is(pin, "others") {
                continue;
            }
            let pin = label(pin);
            if net.is_empty() || pin.is_empty() || package.pins.iter().any(|(p, _)| *p == pin) {
                return Err(format!("trace line {line}: {reference} pin {pin} has no net, or two rows"));
            }
            package.pins.push((pin, (!is(net, "open")).then(|| net.to_owned())));
        }
        if trace.packages.is_empty() { Err("the trace has no rows".to_owned()) } else { Ok(trace) }
    }

    /// The contacts that carry a supply rail.
    pub fn supplies(&self) -> BTreeMap<String, bool> {
        let Ok(nets) = Nets::of(self) else { return BTreeMap::new() };
        let rail_at = |(pin, net): &(String, Option<String>)| Some((pin.clone(), nets.rail(nets.at(net.as_deref())?)?));
        self.contacts().filter_map(rail_at).collect()
    }

    fn contacts(&self) -> impl Iterator<Item = &(String, Option<String>)> {
        self.packages.iter().filter(|p| p.word() == "contacts").flat_map(|p| &p.pins)
    }

    /// Builds the circuit of this trace. Where a part stays, the nets between it and logic are contacts.
    ///
    /// # Errors
    /// What the checker has no model for, by name.
    pub fn model(&self, library: &Library) -> Result<Model, String> {
        let mut nets = Nets::of(self)?;
        nets.look(self, library)?;
        nets.series()?;
        let mut model = Model::default();
        let wires = nets.wires(self, &mut model)?;
        let at = |net: &String| nets.at(Some(net)).map_or(Wire::Open, |n| wires[n]);
        for &(net, ..) in &nets.pulls {
            if let Wire::Net(n) = wires[net] {
                model.nets[n].pull = nets.pull(net)?;
            }
        }
        let mut joined: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for (pin, net) in self.contacts() {
            let facts = nets.at(net.as_deref()).map_or(0, |n| nets.facts(n));
            if facts & STAYS != 0 && facts & (READ | DRIVEN) == 0 {
                continue;
            }
            match net.as_ref().map_or_else(|| Wire::Net(model.net(format!("contact {pin}"))), at) {
                Wire::Net(n) if model.nets[n].contact.is_some() => joined.entry(n).or_default().push(pin.clone()),
                Wire::Net(n) => model.contact(pin.clone(), n),
                _ => {}
            }
        }
        for package in &self.packages {
            if package.word() == "stays" {
                for (pin, net) in &package.pins {
                    let logic = nets.at(net.as_deref()).is_some_and(|n| nets.facts(n) & (READ | DRIVEN) != 0);
                    if let (true, Some(Wire::Net(n))) = (logic, net.as_ref().map(at))
                        && model.nets[n].contact.is_none()
                    {
                        model.contact(format!("{}-{pin}", package.reference).to_uppercase(), n);
                    }
                }
            } else if package.is_logic() {
                let part = library.part(&package.part).map_err(|e| format!("{}: {e}", package.reference))?;
                if let Some((pin, _)) = package.pins.iter().find(|(n, _)| !part.pins.iter().any(|p| p.number == *n)) {
                    return Err(format!("{} has no pin {pin}", package.reference));
                }
                let wire = |pin: &str| package.net(pin).map_or(Wire::Open, at);
                model.place(&package.reference, &part, wire)?;
            }
        }
        joined.iter().for_each(|(&net, others)| model.join(net, others));
        for (who, net, high) in &nets.late {
            let refused = |why: &str| format!("{who} on a signal: {why}, and the checker has no rule for that");
            let Wire::Net(n) = wires[*net] else { continue };
            let charged = model.nets[n].pull == if *high { Pull::Down } else { Pull::Up };
            if !charged || nets.facts(*net) != READ {
                return Err(refused("no resistor to the other rail charges it, or more than inputs of logic is on it"));
            }
            for (e, level) in reset::starts(&model, n, *high).map_err(|why| refused(&why))? {
                model.elements[e].start = Some(level);
            }
        }
        Ok(model)
    }
}

impl Package {
    fn word(&self) -> String {
        self.part.split_whitespace().next().unwrap_or_default().to_lowercase()
    }

    fn is_logic(&self) -> bool {
        !["resistor", "jumper", "capacitor", "contacts", "stays"].contains(&self.word().as_str())
    }

    fn net(&self, pin: &str) -> Option<&String> {
        self.pins.iter().find(|(p, _)| p == pin).and_then(|(_, net)| net.as_ref())
    }
}

/// What is on a net: an input, an output, a contact, a part that stays.
const READ: u8 = 1;
const DRIVEN: u8 = 2;
const CONTACT: u8 = 4;
const STAYS: u8 = 8;

/// The nets of a trace by the names in it, in the sheet's order.
struct Nets<'t> {
    names: Vec<&'t str>,
    numbers: HashMap<&'t str, usize>,
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
    fn of(trace: &'t Trace) -> Result<Nets<'t>, String> {
        let (mut names, mut numbers) = (Vec::new(), HashMap::new());
        for name in trace.packages.iter().flat_map(|p| &p.pins).filter_map(|(_, net)| net.as_deref()) {
            numbers.entry(name).or_insert_with(|| {
                names.push(name);
                names.len() - 1
            });
        }
        let (one, facts) = (UnionFind::new(names.len()), vec![0; names.len()]);
        let (pulls, series, late) = Default::default();
        let mut nets = Nets { names, numbers, one, facts, pulls, series, late };
        trace.packages.iter().try_for_each(|p| nets.passive(p))?;
        Ok(nets)
    }

    fn at(&self, name: Option<&str>) -> Option<usize> {
        self.numbers.get(name?).copied()
    }

    fn same(&self, net: usize) -> impl Iterator<Item = usize> {
        (0..self.names.len()).filter(move |&other| self.one.equiv(net, other))
    }

    /// The name that stands for all of a net: a rail, else what comes first in the sheet.
    fn lead(&self, net: usize) -> usize {
        self.same(net).min_by_key(|&n| (rail(self.names[n]).is_none(), n)).unwrap_or(net)
    }

    fn rail(&self, net: usize) -> Option<bool> {
        rail(self.names[self.lead(net)])
    }

    fn facts(&self, net: usize) -> u8 {
        self.same(net).fold(0, |all, n| all | self.facts[n])
    }

    /// What a jumper, a resistor or a capacitor joins, pulls or makes late.
    fn passive(&mut self, package: &'t Package) -> Result<(), String> {
        let lower = package.part.to_lowercase();
        let words: Vec<&str> = lower.split_whitespace().collect();
        let refused = || format!("{}: the checker does not know `{}`", package.reference, package.part);
        let number = |text: &str| text.parse::<u32>().map_err(|_| refused());
        let (mut links, mut each): (Vec<(String, String)>, _) = (Vec::new(), None);
        match words.as_slice() {
            ["jumper"] => {
                let pins: Vec<&String> = package.pins.iter().filter(|p| p.1.is_some()).map(|p| &p.0).collect();
                links.extend(pins.windows(2).map(|two| (two[0].clone(), two[1].clone())));
            }
            ["jumper", "open"] => {}
            ["jumper", pair] => {
                let (a, b) = pair.split_once('-').ok_or_else(refused)?;
                links.push((label(a), label(b)));
            }
            ["capacitor", rest @ ..] if !rest.contains(&"ignored") => {
                let nets: Vec<usize> = package.pins.iter().filter_map(|(_, net)| self.at(net.as_deref())).collect();
                match nets.iter().map(|&n| rail(self.names[n])).collect::<Vec<_>>()[..] {
                    [None, Some(high)] => self.late.push((&package.reference, nets[0], high)),
                    [Some(high), None] => self.late.push((&package.reference, nets[1], high)),
                    ref rails if rails.iter().all(Option::is_some) => {}
                    _ => return Err(refused()),
                }
            }
            ["resistor", "network", count, how @ ..] => {
                let (count, value) = count.split_once('x').ok_or_else(refused)?;
                let n = number(count)?;
                each = Some(ohms(value).ok_or_else(refused)?);
                let pairs: Vec<(u32, u32)> = match how {
                    ["common", pin] => {
                        let common = number(pin)?;
                        (1..=n + 1).filter(|&p| p != common).map(|p| (common, p)).collect()
                    }
                    ["adjacent"] => (0..n).map(|k| (2 * k + 1, 2 * k + 2)).collect(),
                    ["opposite"] => (1..=n).map(|k| (k, 2 * n + 1 - k)).collect(),
                    _ => return Err(refused()),
                };
                links.extend(pairs.into_iter().map(|(a, b)| (a.to_string(), b.to_string())));
            }
            ["resistor", value @ ..] => {
                let value = value.concat();
                each = if value.is_empty() { None } else { Some(ohms(&value).ok_or_else(refused)?) };
                links.push(("1".to_owned(), "2".to_owned()));
            }
            _ => {}
        }
        for (a, b) in links {
            let at = |pin: &str| package.net(pin).and_then(|net| self.at(Some(net)));
            let (Some(a), Some(b)) = (at(&a), at(&b)) else { continue };
            match (rail(self.names[a]), rail(self.names[b])) {
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
    fn look(&mut self, trace: &Trace, library: &Library) -> Result<(), String> {
        for package in &trace.packages {
            let part = package.is_logic().then(|| library.part(&package.part)).transpose()?;
            for (pin, net) in &package.pins {
                let Some(net) = self.at(net.as_deref()) else { continue };
                let role = part.as_ref().and_then(|p| p.pins.iter().find(|p| p.number == *pin)).map(|p| p.role);
                self.facts[net] |= match (role, package.word().as_str()) {
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
    fn series(&mut self) -> Result<(), String> {
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
                let [a, b] = [a, b].map(|n| self.names[n]);
                return Err(format!("{who}: the checker has no rule for a resistor between {a} and {b}"));
            }
            self.one.union(a, b);
        }
        Ok(())
    }

    /// Where each name is in the circuit; a supply of another voltage is an error.
    fn wires(&self, trace: &Trace, model: &mut Model) -> Result<Vec<Wire>, String> {
        let mut wires = Vec::new();
        let mut found: HashMap<usize, usize> = HashMap::new();
        for (n, name) in self.names.iter().enumerate() {
            let lead = self.lead(n);
            if other_supply(self.names[lead]) {
                return Err(format!("the supply {}: the checker knows VCC and GND only", self.names[lead]));
            }
            let contacts = || trace.contacts().filter_map(|(_, net)| self.at(net.as_deref()));
            wires.push(self.rail(n).map_or_else(
                || {
                    let shown = contacts().find(|&c| self.one.equiv(c, n)).unwrap_or(lead);
                    let net = *found.entry(lead).or_insert_with(|| model.net(self.names[shown]));
                    model.also.entry((*name).to_owned()).or_insert(net);
                    Wire::Net(net)
                },
                Wire::Rail,
            ));
        }
        Ok(wires)
    }

    /// Where the resistors of a net take it: VIH and VIL of TTL, 2.0 V and 0.8 V, from memory.
    fn pull(&self, net: usize) -> Result<Pull, String> {
        let of = |way: bool| self.pulls.iter().filter(move |(n, up, _)| self.one.equiv(*n, net) && *up == way);
        if of(false).next().is_none() {
            return Ok(Pull::Up);
        }
        if of(true).next().is_none() {
            return Ok(Pull::Down);
        }
        let conductance = |up: bool| of(up).map(|(_, _, r)| r.map(|r| 1.0 / r)).sum::<Option<f64>>();
        let name = self.names[net];
        let (Some(up), Some(down)) = (conductance(true), conductance(false)) else {
            return Err(format!("resistors pull {name} both ways, and a value is missing"));
        };
        match 5.0 * up / (up + down) {
            v if v >= 2.0 => Ok(Pull::Up),
            v if v <= 0.8 => Ok(Pull::Down),
            _ => Err(format!("resistors pull {name} between the levels")),
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
