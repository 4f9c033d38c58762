//! The trace: one row for each pin, read into packages and nets, and built with the checker's own parts.
use std::collections::{BTreeMap, HashMap};

use crate::model::{Model, Pull, Wire};
use crate::part::{Library, Role};

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
    if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) {
        let short = text.trim_start_matches('0');
        return if short.is_empty() { "0" } else { short }.to_owned();
    }
    text.to_ascii_uppercase()
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
            let Some([r, p, n, w]) = columns else {
                let find = |name: &str| {
                    let found = record.iter().position(|c| c.eq_ignore_ascii_case(name));
                    found.ok_or_else(|| format!("trace line {line}: the head has no column `{name}`"))
                };
                columns = Some([find("ref")?, find("part")?, find("pin")?, find("net")?]);
                continue;
            };
            let field = |i: usize| record.get(i).unwrap_or_default();
            let (reference, part, net) = (field(r), field(p), field(w));
            if net.eq_ignore_ascii_case("untraced") || part.eq_ignore_ascii_case("untraced") {
                return Err(format!(
                    "trace line {line}: not traced to its end, and the checker checks whole traces only"
                ));
            }
            let package = *at.entry(reference.to_uppercase()).or_insert_with(|| {
                let (reference, part) = (reference.to_owned(), part.to_owned());
                trace.packages.push(Package { reference, part, pins: Vec::new() });
                trace.packages.len() - 1
            });
            let Some(package) = trace.packages.get_mut(package) else { continue };
            let same = |a: &str, b: &str| a.split_whitespace().eq(b.split_whitespace());
            if !part.is_empty() && !same(&part.to_lowercase(), &package.part.to_lowercase()) {
                return Err(format!("trace line {line}: {reference} is two parts"));
            }
            if field(n).eq_ignore_ascii_case("others") {
                continue;
            }
            let pin = label(field(n));
            if net.is_empty() || pin.is_empty() || package.pins.iter().any(|(p, _)| *p == pin) {
                return Err(format!("trace line {line}: {reference} pin {pin} has no net, or two rows"));
            }
            let net = (!net.eq_ignore_ascii_case("open")).then(|| net.to_owned());
            package.pins.push((pin, net));
        }
        if trace.packages.is_empty() { Err("the trace has no rows".to_owned()) } else { Ok(trace) }
    }

    /// The contacts that carry a supply rail.
    pub fn supplies(&self) -> BTreeMap<String, bool> {
        let joints = self.joints().unwrap_or_default();
        let rail_at = |(pin, net): &(String, Option<String>)| Some((pin.clone(), rail(&joints.root(net.as_deref()?))?));
        self.contacts().filter_map(rail_at).collect()
    }

    fn joints(&self) -> Result<Joints, String> {
        let mut joints = Joints::default();
        for package in &self.packages {
            for name in package.pins.iter().filter_map(|(_, net)| net.as_ref()) {
                joints.order(name);
            }
        }
        for package in &self.packages {
            package.join(&mut joints)?;
        }
        Ok(joints)
    }

    /// Builds the circuit of this trace. Where a part stays, the nets between it and logic are contacts.
    ///
    /// # Errors
    /// What the checker has no model for, by name.
    pub fn model(&self, library: &Library) -> Result<Model, String> {
        let mut joints = self.joints()?;
        self.series(library, &mut joints)?;
        let mut model = Model::default();
        let mut wires = Wires { joints, nets: HashMap::new() };
        for name in wires.joints.names.clone() {
            wires.wire(&mut model, &name)?;
        }
        for (net, ..) in wires.joints.pulls.clone() {
            if let Wire::Net(n) = wires.wire(&mut model, &net)? {
                let pull = wires.joints.pull(&net)?;
                if let Some(net) = model.nets.get_mut(n) {
                    net.pull = pull;
                }
            }
        }
        let mut joined: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for (pin, net) in self.contacts() {
            let at = match net {
                Some(net) if wires.joints.at(net).is_wire_between_others() => continue,
                Some(net) => wires.wire(&mut model, net)?,
                None => Wire::Net(model.net(format!("contact {pin}"))),
            };
            match at {
                Wire::Net(n) if model.nets.get(n).is_some_and(|net| net.contact.is_some()) => {
                    joined.entry(n).or_default().push(pin.clone());
                }
                Wire::Net(n) => model.contact(pin.clone(), n),
                _ => {}
            }
        }
        for package in &self.packages {
            if package.stays() {
                let nets = package.pins.iter().filter_map(|(pin, net)| Some((pin, net.as_ref()?)));
                for (pin, net) in nets {
                    if wires.joints.at(net).is_logic()
                        && let Wire::Net(n) = wires.wire(&mut model, net)?
                        && model.nets.get(n).is_some_and(|net| net.contact.is_none())
                    {
                        model.contact(format!("{}-{pin}", package.reference).to_uppercase(), n);
                    }
                }
            } else if package.is_logic() {
                let part = library.part(&package.part).map_err(|e| format!("{}: {e}", package.reference))?;
                let mut at: HashMap<&str, Wire> = HashMap::new();
                for (pin, net) in &package.pins {
                    if !part.pins.iter().any(|p| p.number == *pin) {
                        return Err(format!("{} has no pin {pin}", package.reference));
                    }
                    if let Some(net) = net {
                        at.insert(pin, wires.wire(&mut model, net)?);
                    }
                }
                model.place(&package.reference, &part, |pin| at.get(pin).copied().unwrap_or(Wire::Open))?;
            }
        }
        joined.iter().for_each(|(&net, others)| model.join(net, others));
        Ok(model)
    }

    fn contacts(&self) -> impl Iterator<Item = &(String, Option<String>)> {
        self.packages.iter().filter(|p| p.word() == "contacts").flat_map(|p| &p.pins)
    }

    /// What is on each net, and which nets the resistors between them join: those behind which nothing but inputs is, and
    /// those below 1 kΩ in a line that can let go, or to the outside.
    fn series(&self, library: &Library, joints: &mut Joints) -> Result<(), String> {
        for package in &self.packages {
            let part = package.is_logic().then(|| library.part(&package.part)).transpose()?;
            for (pin, net) in package.pins.iter().filter_map(|(pin, net)| Some((pin, net.as_ref()?))) {
                let role = part.as_ref().and_then(|p| p.pins.iter().find(|p| p.number == *pin)).map(|p| p.role);
                let root = joints.root(net);
                let at = joints.facts.entry(root).or_default();
                at.reads |= matches!(role, Some(Role::Input | Role::Bus));
                at.holds_on |= role == Some(Role::Output);
                at.lets_go |= matches!(role, Some(Role::ThreeState | Role::OpenCollector | Role::Bus));
                at.contact |= package.word() == "contacts";
                at.stays |= package.stays();
            }
        }
        for (who, a, b, ohms) in std::mem::take(&mut joints.series) {
            let (x, y) = (joints.at(&a), joints.at(&b));
            let firm = ohms.is_none_or(|r| r < 1_000.0);
            let outside = |f: Facts| f.contact || f.stays;
            let joins = match (x.is_driven(), y.is_driven()) {
                _ if joints.root(&a) == joints.root(&b) => true,
                (false, false) => !(outside(x) && outside(y)),
                (true, true) => firm,
                (one, _) => {
                    let far = if one { y } else { x };
                    !outside(far) || firm && (!far.reads || ohms.is_some_and(|r| r <= 100.0))
                }
            };
            if !joins {
                return Err(format!("{who}: the checker has no rule for a resistor between {a} and {b}"));
            }
            let both = x.and(y);
            joints.join(&a, &b);
            let root = joints.root(&a);
            joints.facts.insert(root, both);
        }
        self.contacts().filter_map(|(_, net)| net.as_ref()).for_each(|net| joints.contact(net));
        Ok(())
    }
}

/// What is on a net.
#[derive(Clone, Copy, Debug, Default)]
struct Facts {
    reads: bool,
    /// An output that can't let go, and one that can.
    holds_on: bool,
    lets_go: bool,
    contact: bool,
    /// A part that stays.
    stays: bool,
}

impl Facts {
    fn is_driven(self) -> bool {
        self.holds_on || self.lets_go
    }

    fn is_logic(self) -> bool {
        self.is_driven() || self.reads
    }

    fn is_wire_between_others(self) -> bool {
        self.stays && !self.is_logic()
    }

    fn and(self, o: Facts) -> Facts {
        Facts {
            reads: self.reads || o.reads,
            holds_on: self.holds_on || o.holds_on,
            lets_go: self.lets_go || o.lets_go,
            contact: self.contact || o.contact,
            stays: self.stays || o.stays,
        }
    }
}

/// The nets of a trace in a circuit.
struct Wires {
    joints: Joints,
    nets: HashMap<String, usize>,
}

impl Wires {
    /// Where a net of the trace is in the circuit; a supply of another voltage is an error.
    fn wire(&mut self, model: &mut Model, name: &str) -> Result<Wire, String> {
        let root = self.joints.root(name);
        if let Some(high) = rail(&root) {
            return Ok(Wire::Rail(high));
        }
        if other_supply(&root) {
            return Err(format!("the supply {root}: the checker knows VCC and GND only"));
        }
        let shown = self.joints.shown(&root);
        let net = *self.nets.entry(root).or_insert_with(|| model.net(shown));
        model.also.entry(name.to_owned()).or_insert(net);
        Ok(Wire::Net(net))
    }
}

impl Package {
    fn word(&self) -> String {
        self.part.split_whitespace().next().unwrap_or_default().to_lowercase()
    }

    fn is_logic(&self) -> bool {
        !["resistor", "jumper", "capacitor", "contacts", "stays"].contains(&self.word().as_str())
    }

    fn stays(&self) -> bool {
        self.word() == "stays"
    }

    fn net(&self, pin: &str) -> Option<&str> {
        self.pins.iter().find(|(p, _)| p == pin).and_then(|(_, net)| net.as_deref())
    }

    /// What jumpers and resistors of this package join or pull.
    fn join(&self, joints: &mut Joints) -> Result<(), String> {
        let lower = self.part.to_lowercase();
        let words: Vec<&str> = lower.split_whitespace().collect();
        let refused = || format!("{}: the checker does not know `{}`", self.reference, self.part);
        match words.as_slice() {
            ["jumper"] => {
                let nets: Vec<&str> = self.pins.iter().filter_map(|(_, net)| net.as_deref()).collect();
                for pair in nets.windows(2) {
                    if let [a, b] = pair {
                        joints.join(a, b);
                    }
                }
            }
            ["jumper", "open"] => {}
            ["jumper", pair] => {
                let (a, b) = pair.split_once('-').ok_or_else(refused)?;
                if let (Some(a), Some(b)) = (self.net(&label(a)), self.net(&label(b))) {
                    joints.join(a, b);
                }
            }
            ["capacitor", rest @ ..] => {
                let rails = self.pins.iter().all(|(_, net)| net.as_deref().is_none_or(|n| rail(n).is_some()));
                if !rails && !rest.contains(&"ignored") {
                    return Err(refused());
                }
            }
            ["resistor", "network", count, how @ ..] => {
                let (count, each) = count.split_once('x').ok_or_else(refused)?;
                let (n, each) = (count.parse::<u32>().map_err(|_| refused())?, ohms(each).ok_or_else(refused)?);
                let links: Vec<(u32, u32)> = match how {
                    ["common", pin] => {
                        let common: u32 = pin.parse().map_err(|_| refused())?;
                        (1..=n + 1).filter(|&p| p != common).map(|p| (common, p)).collect()
                    }
                    ["adjacent"] => (0..n).map(|k| (2 * k + 1, 2 * k + 2)).collect(),
                    ["opposite"] => (1..=n).map(|k| (k, 2 * n + 1 - k)).collect(),
                    _ => return Err(refused()),
                };
                for (a, b) in links {
                    self.resistor(joints, &a.to_string(), &b.to_string(), Some(each));
                }
            }
            ["resistor", value @ ..] => {
                let value = value.concat();
                let each = if value.is_empty() { None } else { Some(ohms(&value).ok_or_else(refused)?) };
                self.resistor(joints, "1", "2", each);
            }
            _ => {}
        }
        Ok(())
    }

    fn resistor(&self, joints: &mut Joints, a: &str, b: &str, ohms: Option<f64>) {
        let (Some(a), Some(b)) = (self.net(a), self.net(b)) else { return };
        match (rail(a), rail(b)) {
            (Some(_), Some(_)) => {}
            (Some(up), None) => joints.pulls.push((b.to_owned(), up, ohms)),
            (None, Some(up)) => joints.pulls.push((a.to_owned(), up, ohms)),
            (None, None) if ohms == Some(0.0) => joints.join(a, b),
            (None, None) => joints.series.push((self.reference.clone(), a.to_owned(), b.to_owned(), ohms)),
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
    let number = if part.is_empty() { whole.to_owned() } else { format!("{whole}.{part}") };
    number.parse::<f64>().ok().map(|n| n * factor)
}

/// Which names of the sheet are one net.
#[derive(Clone, Debug, Default)]
struct Joints {
    names: Vec<String>,
    to: HashMap<String, String>,
    contacts: HashMap<String, String>,
    pulls: Vec<(String, bool, Option<f64>)>,
    /// Resistors from net to net: whose, the ends, the ohms.
    series: Vec<(String, String, String, Option<f64>)>,
    facts: HashMap<String, Facts>,
}

impl Joints {
    fn order(&mut self, name: &str) {
        if !self.to.contains_key(name) {
            self.to.insert(name.to_owned(), name.to_owned());
            self.names.push(name.to_owned());
        }
    }

    fn root(&self, name: &str) -> String {
        let mut at = name;
        while let Some(next) = self.to.get(at).filter(|next| *next != at) {
            at = next;
        }
        at.to_owned()
    }

    /// A rail stays the root, else what comes first in the sheet.
    fn join(&mut self, a: &str, b: &str) {
        let (a, b) = (self.root(a), self.root(b));
        let place = |n: &str| (rail(n).is_none(), self.names.iter().position(|m| m == n));
        let (first, second) = if place(&a) <= place(&b) { (a, b) } else { (b, a) };
        self.to.insert(second, first);
    }

    fn at(&self, name: &str) -> Facts {
        self.facts.get(&self.root(name)).copied().unwrap_or_default()
    }

    fn contact(&mut self, name: &str) {
        let root = self.root(name);
        self.contacts.entry(root).or_insert_with(|| name.to_owned());
    }

    fn shown(&self, root: &str) -> String {
        self.contacts.get(root).cloned().unwrap_or_else(|| root.to_owned())
    }

    /// Where the resistors of a net take it: VIH and VIL of TTL, 2.0 V and 0.8 V, from memory.
    fn pull(&self, net: &str) -> Result<Pull, String> {
        let root = self.root(net);
        let mine: Vec<_> = self.pulls.iter().filter(|(n, ..)| self.root(n) == root).collect();
        let of = |up: bool| mine.iter().filter(move |(_, u, _)| *u == up);
        if of(false).next().is_none() {
            return Ok(Pull::Up);
        }
        if of(true).next().is_none() {
            return Ok(Pull::Down);
        }
        let conductance = |up: bool| of(up).map(|(_, _, r)| r.map(|r| 1.0 / r)).sum::<Option<f64>>();
        let (Some(up), Some(down)) = (conductance(true), conductance(false)) else {
            return Err(format!("resistors pull {net} both ways, and a value is missing"));
        };
        match 5.0 * up / (up + down) {
            v if v >= 2.0 => Ok(Pull::Up),
            v if v <= 0.8 => Ok(Pull::Down),
            _ => Err(format!("resistors pull {net} between the levels")),
        }
    }
}
