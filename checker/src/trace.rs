//! The trace: one row for each pin, read into packages and nets, and built with the checker's own parts.
use std::collections::{BTreeMap, HashMap};

use crate::model::{Model, Pull, Wire};
use crate::part::Library;

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
        "VCC" | "+5V" | "5V" => Some(true),
        "GND" | "0V" => Some(false),
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
        let contacts = self.packages.iter().filter(|p| p.part.eq_ignore_ascii_case("contacts"));
        let pins = contacts.flat_map(|p| &p.pins);
        pins.filter_map(|(pin, net)| Some((pin.clone(), rail(&joints.root(net.as_deref()?))?))).collect()
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
        let contacts = self.packages.iter().filter(|p| p.part.eq_ignore_ascii_case("contacts"));
        for name in contacts.flat_map(|p| &p.pins).filter_map(|(_, net)| net.as_ref()) {
            joints.contact(name);
        }
        Ok(joints)
    }

    /// Builds the circuit of this trace: of all packages, or of those that `stays` names; contacts are always there.
    ///
    /// # Errors
    /// What the checker has no model for, by name.
    pub fn model(&self, library: &Library, stays: impl Fn(&str) -> bool) -> Result<(Model, Wires), String> {
        let joints = self.joints()?;
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
        for package in &self.packages {
            if package.part.eq_ignore_ascii_case("contacts") {
                for (pin, net) in &package.pins {
                    let at = match net {
                        Some(net) => wires.wire(&mut model, net)?,
                        None => Wire::Net(model.net(format!("contact {pin}"))),
                    };
                    if let Wire::Net(n) = at {
                        if model.nets.get(n).is_some_and(|net| net.contact.is_some()) {
                            return Err(format!(
                                "contact {pin} shares its net with another: the checker has no rule for it"
                            ));
                        }
                        model.contact(pin.clone(), n);
                    }
                }
            } else if !package.is_passive() && stays(&package.reference) {
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
        Ok((model, wires))
    }
}

/// The nets of a trace in a circuit.
#[derive(Clone, Debug)]
pub struct Wires {
    joints: Joints,
    nets: HashMap<String, usize>,
}

impl Wires {
    /// Where a net of the trace is in the circuit.
    ///
    /// # Errors
    /// If it is a supply of another voltage.
    pub fn wire(&mut self, model: &mut Model, name: &str) -> Result<Wire, String> {
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

    fn is_passive(&self) -> bool {
        ["resistor", "jumper", "capacitor"].contains(&self.word().as_str())
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
            (None, None) => joints.join(a, b),
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
