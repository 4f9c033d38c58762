//! Parts as data: a table of pins and one line for each function, read into expressions over pins and what elements hold.
use std::collections::{BTreeSet, HashMap};

use anyhow::{Context, Result, anyhow, bail};
use regex::Regex;
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

/// How families are called, how numbers are printed, and where a number means another thing in a family.
#[derive(Debug, Deserialize)]
struct Families {
    high: Vec<String>,
    open: Vec<String>,
    printed: Vec<String>,
    suffix: String,
    others: HashMap<String, Vec<String>>,
}

/// The parts that the tables hold.
#[derive(Debug)]
pub struct Library {
    rows: HashMap<String, Row>,
    families: Families,
    /// What stands on a package: a family or none, and a number.
    printed: Vec<Regex>,
    /// What may stand behind a number: a revision and a package, never a misread digit.
    suffix: Regex,
}

impl Library {
    /// Reads the tables.
    ///
    /// # Errors
    /// If a table can't be read.
    pub fn read() -> Result<Library> {
        const OWN: &str = "the checker's own table of parts";
        let rows = toml::from_str(include_str!("../data/parts.toml")).context(OWN)?;
        let families: Families = toml::from_str(include_str!("../data/families.toml")).context(OWN)?;
        let pattern = |text: &str| Regex::new(&format!("^{text}{}$", families.suffix)).context(OWN);
        let printed = families.printed.iter().map(|text| pattern(text)).collect::<Result<_>>()?;
        Ok(Library { rows, printed, suffix: pattern("")?, families })
    }

    /// The types, in order.
    pub fn types(&self) -> BTreeSet<String> {
        self.rows.keys().cloned().collect()
    }

    /// The part of this type number.
    ///
    /// # Errors
    /// If the tables have no such type: the type is named.
    pub fn part(&self, text: &str) -> Result<Part> {
        let upper: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_uppercase();
        let name = upper.rsplit(':').next().and_then(|n| n.split('/').next()).unwrap_or_default();
        let found = self.numbered(name).or_else(|| self.own(name));
        let (kind, is_ttl) = found.with_context(|| format!("the checker has no model of `{text}` and refuses it"))?;
        let row = &self.rows[&kind];
        let part = parse(&kind, &row.pins, &row.logic).with_context(|| format!("the checker's own table, {kind}"))?;
        Ok(Part { is_ttl, ..part })
    }

    /// A number of the 74, 54 or 4000 series, and whether its open inputs read high.
    fn numbered(&self, name: &str) -> Option<(String, bool)> {
        let f = &self.families;
        let has = |all: &[String], family: &str| all.iter().any(|a| a == family);
        self.printed.iter().filter_map(|pattern| pattern.captures(name)).find_map(|found| {
            let function = &found["number"];
            let Some(family) = found.name("family").map(|family| family.as_str()) else {
                return Some((format!("CD{function}"), false)).filter(|(kind, _)| self.rows.contains_key(kind));
            };
            let is_high = has(&f.high, family);
            let means_another = f.others.get(function).is_some_and(|families| has(families, family));
            (!means_another && (is_high || has(&f.open, family))).then_some(())?;
            // the family's own table, else that of any other
            let mut all = std::iter::once(family).chain(f.high.iter().chain(&f.open).map(String::as_str));
            let kind = |family: &str| Some(format!("74{family}{function}")).filter(|kind| self.rows.contains_key(kind));
            Some((all.find_map(kind)?, is_high))
        })
    }

    /// A number of its maker's: the longest that the name begins with.
    fn own(&self, name: &str) -> Option<(String, bool)> {
        let short = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let fits = |own: &str| {
            let rest = name.strip_prefix(own).or_else(|| short.strip_prefix(own));
            rest.is_some_and(|rest| self.suffix.is_match(rest))
        };
        let of = self.rows.iter().filter_map(|(kind, row)| Some((kind, row, row.family.as_ref()?)));
        let named = of.flat_map(|(kind, row, family)| row.also.iter().chain([kind]).map(move |n| (n, kind, family)));
        let (_, kind, family) = named.filter(|(n, ..)| fits(n)).max_by_key(|(n, ..)| n.len())?;
        Some((kind.clone(), self.families.high.contains(family)))
    }
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
pub fn parse(name: &str, pins: &str, logic: &str) -> Result<Part> {
    let part = Part { name: name.to_owned(), ..Part::default() };
    let mut r = Reading { part, low: 0, lets: HashMap::new(), pins: HashMap::new(), elements: HashMap::new() };
    r.low = r.op(Op::Constant(false));
    let high = r.op(Op::Constant(true));
    r.lets.extend([("0".to_owned(), r.low), ("1".to_owned(), high)]);
    for text in pins.split(',').map(str::trim).filter(|t| !t.is_empty()) {
        let [number, name, role] = text.split_whitespace().collect::<Vec<_>>()[..] else {
            bail!("the pin `{text}`");
        };
        let role = Role::deserialize(serde::de::value::StrDeserializer::<serde::de::value::Error>::new(role));
        let role = role.with_context(|| format!("the pin `{text}`"))?;
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
                all.push(Element { name: name.to_owned(), kind, inputs: [low; 5], start: None });
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
        r.line(line).with_context(|| format!("`{line}`"))?;
    }
    Ok(r.part)
}

impl Reading {
    fn op(&mut self, op: Op) -> Id {
        self.part.model.op(op)
    }

    fn line(&mut self, line: &str) -> Result<()> {
        let (word, rest) = line.split_once(' ').context("a line of one word")?;
        if ["register", "latch"].contains(&word) {
            return self.element(rest);
        }
        let (name, text) = line.split_once(" = ").context("no `=`")?;
        let value = self.expression(text)?;
        if let Some(name) = name.strip_prefix("node ") {
            let net = self.part.model.find_net(name).context("no such net")?;
            self.part.model.drive(net, None, value, Stage::PushPull);
            return Ok(());
        }
        let pin = |name: &str| self.pins.get(name).copied();
        if let Some(pin) = name.strip_suffix(".oe").map(pin) {
            let driver = pin.and_then(|p| self.part.model.nets[p].drivers.last_mut());
            driver.context("no such output")?.enable = value;
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
            Some(_) => bail!("no output"),
        }
        if !matches!(role, Some((_, Role::Bus))) {
            self.lets.insert(name.to_owned(), value);
        }
        Ok(())
    }

    /// `name clock A data B clear C`, each an expression.
    fn element(&mut self, text: &str) -> Result<()> {
        const WORDS: [(&str, usize); 6] =
            [("clock", 0), ("open", 0), ("data", 1), ("clear", 2), ("preset", 3), ("unknown", 4)];
        let input = |word: &str| WORDS.iter().find(|known| known.0 == word).map(|known| known.1);
        let mut words = text.split_whitespace().peekable();
        let at = words.next().and_then(|name| self.elements.get(name).copied()).context("no such element")?;
        while let Some(word) = words.next() {
            let which = input(word).with_context(|| format!("the word `{word}`"))?;
            let expression: Vec<&str> = std::iter::from_fn(|| words.next_if(|w| input(w).is_none())).collect();
            self.part.model.elements[at].inputs[which] = self.expression(&expression.join(" "))?;
        }
        Ok(())
    }

    /// `|` binds loosest, then `&`, then `^`, then `!`.
    fn expression(&mut self, text: &str) -> Result<Id> {
        let text = text.trim();
        let gates: [(char, fn(Vec<Id>) -> Op); 3] = [('|', Op::Any), ('&', Op::All), ('^', Op::Xor)];
        for (sign, gate) in gates {
            let mut depth = 0;
            let within = text.split(|c: char| {
                depth += i32::from(c == '(') - i32::from(c == ')');
                depth == 0 && c == sign
            });
            let all: Vec<&str> = within.collect();
            if all.len() > 1 {
                let all = all.into_iter().map(|one| self.expression(one)).collect::<Result<_>>()?;
                return Ok(self.op(gate(all)));
            }
        }
        if let Some(rest) = text.strip_prefix('!') {
            let of = self.expression(rest)?;
            return Ok(self.op(Op::Not(of)));
        }
        let Some((word, name)) = text.strip_suffix(')').and_then(|text| text.split_once('(')) else {
            let pin = self.pins.get(text).filter(|&&p| matches!(self.part.pins[p].role, Role::In | Role::Bus));
            return match (self.lets.get(text), self.elements.get(text), pin) {
                (Some(&value), ..) => Ok(value),
                (_, Some(&e), _) => Ok(self.op(Op::Held(e))),
                (.., Some(&p)) => Ok(self.op(Op::Net(p))),
                _ => Err(anyhow!("the name `{text}`")),
            };
        };
        match (word, self.elements.get(name), self.pins.get(name)) {
            ("", ..) => self.expression(name),
            ("inv", Some(&e), _) => Ok(self.op(Op::Complement(e))),
            ("pin", _, Some(&p)) => Ok(self.op(Op::Net(p))),
            _ => Err(anyhow!("the name `{text}`")),
        }
    }
}

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
            assert!(library.part(other).unwrap_err().to_string().contains(other), "{other}");
        }
        assert!(library.part("74LS123").unwrap_err().to_string().contains("74LS123"));
        assert!(library.part("7473").is_err(), "the plain type is a master-slave");
        assert!(library.part("Z80").is_err());
    }
}
