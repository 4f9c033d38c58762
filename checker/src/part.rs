//! Parts as data: a table of pins and one line for each function, read into expressions over pins and what elements hold.
use std::collections::HashMap;

use serde::Deserialize;

use crate::model::{Element, Id, Kind, Model, Op, Stage};

/// What a pin does.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Reads.
    In,
    /// Drives at all times.
    Out,
    /// Drives at times.
    Tri,
    /// An open collector: pulls low or lets go.
    Oc,
    /// Reads and drives at times.
    Bus,
    /// The positive supply.
    Vcc,
    /// Ground.
    Gnd,
    /// Joined to nothing.
    Nc,
}

/// A pin.
#[derive(Clone, Debug)]
pub struct Pin {
    /// Its number, as printed.
    pub number: String,
    /// What it does.
    pub role: Role,
}

/// A part.
#[derive(Clone, Debug, Default)]
pub struct Part {
    /// Type number.
    pub name: String,
    /// Whether an input that nothing drives reads high (TTL: common practice, no source).
    pub is_ttl: bool,
    /// Pins.
    pub pins: Vec<Pin>,
    /// What it does: its first nets are those at its pins, in the same order.
    pub model: Model,
}

#[derive(Debug, Deserialize)]
struct Row {
    #[serde(default)]
    also: Vec<String>,
    /// Of a maker's own number: whose levels it has.
    family: Option<String>,
    pins: String,
    logic: String,
}

/// How families are called, and where a number means another thing in them.
#[derive(Debug, Deserialize)]
struct Families {
    high: Vec<String>,
    open: Vec<String>,
    without_74: Vec<String>,
    before_4000: Vec<String>,
    others: HashMap<String, Vec<String>>,
}

/// The parts that the tables hold.
#[derive(Debug)]
pub struct Library {
    rows: HashMap<String, Row>,
    families: Families,
}

impl Library {
    /// Reads the tables.
    ///
    /// # Errors
    /// If a table can't be read.
    pub fn read() -> Result<Library, String> {
        let fault = |e: toml::de::Error| format!("the checker's own table of parts: {e}");
        let rows = toml::from_str(include_str!("../data/parts.toml")).map_err(fault)?;
        Ok(Library { rows, families: toml::from_str(include_str!("../data/families.toml")).map_err(fault)? })
    }

    /// The types, in order.
    pub fn types(&self) -> Vec<String> {
        let mut all: Vec<String> = self.rows.keys().cloned().collect();
        all.sort();
        all
    }

    /// The part of this type number.
    ///
    /// # Errors
    /// If the tables have no such type: the type is named.
    pub fn part(&self, text: &str) -> Result<Part, String> {
        let upper: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_uppercase();
        let name = upper.rsplit(':').next().and_then(|n| n.split('/').next()).unwrap_or_default();
        let found = self.numbered(name).or_else(|| self.of_4000(name)).or_else(|| self.own(name));
        let (kind, is_ttl) = found.ok_or_else(|| format!("the checker has no model of `{text}` and refuses it"))?;
        let row = &self.rows[&kind];
        let part = parse(&kind, &row.pins, &row.logic);
        let part = part.map_err(|e| format!("the checker's own table, {kind}: {e}"))?;
        Ok(Part { is_ttl, ..part })
    }

    /// A number of the 74 or 54 series, and whether its open inputs read high.
    fn numbered(&self, name: &str) -> Option<(String, bool)> {
        let f = &self.families;
        let number = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let (family, function) = match number.strip_prefix("74").or_else(|| number.strip_prefix("54")) {
            Some(rest) => {
                let function = rest.trim_start_matches(|c: char| c.is_ascii_uppercase());
                (rest.strip_suffix(function)?, function)
            }
            None => (name.strip_suffix(number).filter(|l| f.without_74.iter().any(|w| w == l))?, number),
        };
        // gates in small packages: 1G04
        let small = function.get(..2).filter(|g| ["1G", "2G", "3G"].contains(g)).map_or(0, str::len);
        let end = function.get(small..)?.find(|c: char| !c.is_ascii_digit()).map_or(function.len(), |n| n + small);
        let (function, suffix) = function.split_at_checked(end)?;
        let has = |all: &[String]| all.iter().any(|a| a == family);
        let is_high = has(&f.high);
        let means_another = f.others.get(function).is_some_and(|families| has(families));
        if !is_suffix(suffix) || means_another || !(is_high || has(&f.open)) {
            return None;
        }
        // the family's own table, else that of any other
        let mut all = std::iter::once(family).chain(f.high.iter().chain(&f.open).map(String::as_str));
        let kind = |family: &str| Some(format!("74{family}{function}")).filter(|kind| self.rows.contains_key(kind));
        Some((all.find_map(kind)?, is_high))
    }

    fn of_4000(&self, name: &str) -> Option<(String, bool)> {
        self.families.before_4000.iter().find_map(|before| {
            let rest = name.strip_prefix(before.as_str())?;
            let (number, suffix) = rest.split_at_checked(rest.bytes().take_while(u8::is_ascii_digit).count())?;
            let kind = Some(format!("CD{number}")).filter(|kind| self.rows.contains_key(kind) && is_suffix(suffix));
            kind.map(|kind| (kind, false))
        })
    }

    /// A number of its maker's: the longest that the name begins with.
    fn own(&self, name: &str) -> Option<(String, bool)> {
        let short = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let fits = |own: &str| {
            let rest = name.strip_prefix(own).or_else(|| short.strip_prefix(own));
            rest.is_some_and(|rest| is_suffix(rest) && !rest.starts_with(|c: char| c.is_ascii_digit()))
        };
        let of = self.rows.iter().filter_map(|(kind, row)| Some((kind, row, row.family.as_ref()?)));
        let named = of.flat_map(|(kind, row, family)| row.also.iter().chain([kind]).map(move |n| (n, kind, family)));
        let (_, kind, family) = named.filter(|(n, ..)| fits(n)).max_by_key(|(n, ..)| n.len())?;
        Some((kind.clone(), self.families.high.contains(family)))
    }
}

/// What may stand behind a number: a revision and a package, never a misread digit.
fn is_suffix(text: &str) -> bool {
    let printed = text.split('_').next().unwrap_or_default();
    !printed.starts_with(['O', 'I']) && printed.chars().all(|c| c.is_ascii_alphanumeric() || "-.".contains(c))
}

/// A part being read: what its names stand for.
struct Reading {
    part: Part,
    low: Id,
    lets: HashMap<String, Id>,
    pins: HashMap<String, usize>,
    elements: HashMap<String, usize>,
}

/// Reads a part in the notation of the tables.
///
/// # Errors
/// The line that can't be read.
pub fn parse(name: &str, pins: &str, logic: &str) -> Result<Part, String> {
    let part = Part { name: name.to_owned(), ..Part::default() };
    let mut r = Reading { part, low: 0, lets: HashMap::new(), pins: HashMap::new(), elements: HashMap::new() };
    r.low = r.op(Op::Constant(false));
    let high = r.op(Op::Constant(true));
    r.lets.extend([("0".to_owned(), r.low), ("1".to_owned(), high)]);
    for text in pins.split(',').map(str::trim).filter(|t| !t.is_empty()) {
        let [number, name, role] = text.split_whitespace().collect::<Vec<_>>()[..] else {
            return Err(format!("the pin `{text}`"));
        };
        let role = Role::deserialize(serde::de::value::StrDeserializer::<serde::de::value::Error>::new(role));
        let role = role.map_err(|e| format!("the pin `{text}`: {e}"))?;
        r.part.pins.push(Pin { number: number.to_owned(), role });
        r.pins.insert(name.to_owned(), r.part.model.net(name));
    }
    let lines = || logic.lines().map(str::trim).filter(|l| !l.is_empty());
    // names first: elements and inner nets may be read before their own line
    for line in lines() {
        match line.split_whitespace().collect::<Vec<_>>()[..] {
            [kind @ ("register" | "latch"), name, ..] => {
                let (all, low) = (&mut r.part.model.elements, r.low);
                r.elements.insert(name.to_owned(), all.len());
                let kind = if kind == "register" { Kind::Register } else { Kind::Latch };
                all.push(Element::new(name.to_owned(), kind, low));
            }
            ["node", name, ..] => {
                let net = r.part.model.net(name);
                let level = r.op(Op::Net(net));
                r.lets.insert(name.to_owned(), level);
            }
            _ => {}
        }
    }
    for line in lines() {
        r.line(line).map_err(|e| format!("`{line}`: {e}"))?;
    }
    Ok(r.part)
}

impl Reading {
    fn op(&mut self, op: Op) -> Id {
        self.part.model.op(op)
    }

    fn line(&mut self, line: &str) -> Result<(), String> {
        let (word, rest) = line.split_once(' ').ok_or("a line of one word")?;
        if ["register", "latch"].contains(&word) {
            return self.element(rest);
        }
        let (name, text) = line.split_once(" = ").ok_or("no `=`")?;
        let value = self.expression(text)?;
        if let Some(name) = name.strip_prefix("node ") {
            let net = self.part.model.find_net(name).ok_or("no such net")?;
            self.part.model.drive(net, None, value, Stage::PushPull);
            return Ok(());
        }
        let pin = |name: &str| self.pins.get(name).copied();
        if let Some(pin) = name.strip_suffix(".oe").map(pin) {
            let driver = pin.and_then(|p| self.part.model.nets[p].drivers.last_mut());
            driver.ok_or("no such output")?.enable = value;
            return Ok(());
        }
        // what is no pin is an inner name of the data sheet's equations
        let name = name.strip_prefix("let ").unwrap_or(name);
        let role = pin(name).map(|p| (p, self.part.pins[p].role));
        match role {
            None => {}
            Some((p, Role::Oc)) => {
                let on = self.op(Op::Not(value));
                self.part.model.drive(p, Some(on), self.low, Stage::OpenCollector);
            }
            Some((p, Role::Out | Role::Tri | Role::Bus)) => {
                self.part.model.drive(p, None, value, Stage::ThreeState);
            }
            Some(_) => return Err("no output".to_owned()),
        }
        if !matches!(role, Some((_, Role::Bus))) {
            self.lets.insert(name.to_owned(), value);
        }
        Ok(())
    }

    /// `name clock A data B clear C`, each an expression.
    fn element(&mut self, text: &str) -> Result<(), String> {
        const WORDS: [&str; 6] = ["clock", "open", "data", "clear", "preset", "unknown"];
        let mut words = text.split_whitespace().peekable();
        let at = words.next().and_then(|name| self.elements.get(name).copied()).ok_or("no such element")?;
        while let Some(word) = words.next() {
            let expression: Vec<&str> = std::iter::from_fn(|| words.next_if(|w| !WORDS.contains(w))).collect();
            let value = self.expression(&expression.join(" "))?;
            let element = &mut self.part.model.elements[at];
            *match word {
                "clock" | "open" => &mut element.gate,
                "data" => &mut element.data,
                "clear" => &mut element.clear,
                "preset" => &mut element.preset,
                "unknown" => &mut element.unknown,
                _ => return Err(format!("the word `{word}`")),
            } = value;
        }
        Ok(())
    }

    fn expression(&mut self, text: &str) -> Result<Id, String> {
        let spaced = SIGNS.iter().fold(text.to_owned(), |text, sign| text.replace(sign, &format!(" {sign} ")));
        let mut words = spaced.split_whitespace().peekable();
        let value = self.level(&mut words, 0)?;
        words.next().map_or(Ok(value), |left| Err(format!("what stands at `{left}`")))
    }

    /// One level of binding: `|`, then `&`, then `^`, then `!` and names.
    fn level(&mut self, words: &mut Words<'_>, level: usize) -> Result<Id, String> {
        let Some(sign) = SIGNS.get(level).filter(|_| level < 3) else { return self.one(words) };
        let mut all = vec![self.level(words, level + 1)?];
        while words.next_if_eq(sign).is_some() {
            all.push(self.level(words, level + 1)?);
        }
        Ok(match (all.as_slice(), level) {
            (&[one], _) => one,
            (&[first, ref more @ ..], 2) => more.iter().fold(first, |x, &y| self.op(Op::Xor([x, y]))),
            (_, 0) => self.op(Op::Any(all)),
            _ => self.op(Op::All(all)),
        })
    }

    fn one(&mut self, words: &mut Words<'_>) -> Result<Id, String> {
        let word = words.next().ok_or("it ends too early")?;
        if word == "!" {
            let of = self.one(words)?;
            return Ok(self.op(Op::Not(of)));
        }
        let opens = word == "(" || words.next_if_eq(&"(").is_some();
        let inner = if word == "(" { self.level(words, 0)? } else { 0 };
        let name = if opens && word != "(" { words.next().ok_or("it ends too early")? } else { word };
        if opens && words.next() != Some(")") {
            return Err("a parenthesis is open".to_owned());
        }
        let pin = self.pins.get(name).map(|&p| (p, self.part.pins[p].role));
        let op = match (word, self.lets.get(name), self.elements.get(name), pin) {
            ("(", ..) => return Ok(inner),
            ("inv", _, Some(&e), _) if opens => Op::Complement(e),
            ("pin", .., Some((p, _))) if opens => Op::Net(p),
            (_, Some(&value), ..) if !opens => return Ok(value),
            (_, _, Some(&e), _) if !opens => Op::Held(e),
            (.., Some((p, Role::In | Role::Bus))) if !opens => Op::Net(p),
            _ => return Err(format!("the name `{name}`")),
        };
        Ok(self.op(op))
    }
}

/// Signs, from the loosest.
const SIGNS: [&str; 6] = ["|", "&", "^", "!", "(", ")"];

type Words<'w> = std::iter::Peekable<std::str::SplitWhitespace<'w>>;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_of_the_tables_can_be_read() {
        let library = Library::read().unwrap();
        let types = library.types();
        assert!(types.len() > 230, "{}", types.len());
        for t in types {
            let part = library.part(&t).unwrap();
            let driving = |r| matches!(r, Role::Out | Role::Tri | Role::Oc | Role::Bus);
            for (i, pin) in part.pins.iter().enumerate() {
                assert_eq!(driving(pin.role), !part.model.nets[i].drivers.is_empty(), "{t} pin {}", pin.number);
            }
        }
    }

    #[test]
    fn a_type_number_as_it_is_printed_and_one_that_is_refused() {
        let library = Library::read().unwrap();
        assert_eq!(library.part("SN74LS138N").unwrap().name, "74LS138");
        assert_eq!(library.part("7400").unwrap().name, "74LS00");
        assert_eq!(library.part("74LVC1G04DBV").unwrap().name, "74LVC1G04");
        assert_eq!(library.part("LS374").unwrap().name, "74LS374");
        for (printed, name) in [("HEF4011BP", "CD4011"), ("MC14011BCP", "CD4011"), ("4069UB", "CD4069")] {
            assert_eq!(library.part(printed).unwrap().name, name);
        }
        assert_eq!(library.part("N8T26AN").unwrap().name, "8T26A");
        let decoder = library.part("74HCT138").unwrap();
        let drives = decoder.model.nets.iter().filter(|n| !n.drivers.is_empty());
        assert!(drives.count() == 8 && !decoder.is_ttl);
        assert!(library.part("SN75451BP").unwrap().is_ttl && library.part("74S138").unwrap().is_ttl);
        for other in ["74S573", "74HC266", "7451", "74LS16O", "74LS1I", "CD401", "LM358", "74LVCH245", "27C128"] {
            assert!(library.part(other).unwrap_err().contains(other), "{other}");
        }
        assert!(library.part("74LS123").unwrap_err().contains("74LS123"));
        assert!(library.part("7473").is_err(), "the plain type is a master-slave");
        assert!(library.part("Z80").is_err());
    }
}
