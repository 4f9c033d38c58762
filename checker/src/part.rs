//! Parts as data: a table of pins and one line for each function, read into expressions over pins and what elements hold.
use std::collections::HashMap;
use std::rc::Rc;

use serde::Deserialize;

use crate::model::Kind;

/// A function of one part.
#[derive(Clone, Debug, PartialEq)]
pub enum Func {
    /// Always this.
    Constant(bool),
    /// The level of the net at a pin, by position.
    Pin(usize),
    /// The level of an inner net, by position.
    Node(usize),
    /// What an element holds.
    Held(usize),
    /// The complementary output of an element.
    Complement(usize),
    /// Not.
    Not(Rc<Func>),
    /// All of them.
    All(Vec<Rc<Func>>),
    /// Any of them.
    Any(Vec<Rc<Func>>),
    /// Exactly one.
    Xor(Rc<Func>, Rc<Func>),
}

/// What a pin does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Reads.
    Input,
    /// Drives at all times.
    Output,
    /// Drives at times.
    ThreeState,
    /// Pulls low or lets go.
    OpenCollector,
    /// Reads and drives at times.
    Bus,
    /// The positive supply.
    Vcc,
    /// Ground.
    Gnd,
    /// Joined to nothing.
    Unconnected,
}

/// A pin.
#[derive(Clone, Debug)]
pub struct Pin {
    /// Its number, as printed.
    pub number: String,
    /// Its name in the model.
    pub name: String,
    /// What it does.
    pub role: Role,
}

/// A register or latch of a part.
#[derive(Clone, Debug)]
pub struct Element {
    /// Its name in the part.
    pub name: String,
    /// Register or latch.
    pub kind: Kind,
    /// The clock that rises, or the condition while it is open.
    pub gate: Rc<Func>,
    /// What it takes.
    pub data: Rc<Func>,
    /// Low at once.
    pub clear: Rc<Func>,
    /// High at once.
    pub preset: Rc<Func>,
    /// An edge after which nobody knows what it holds.
    pub unknown: Rc<Func>,
    /// What it holds at power-up, if that is known.
    pub start: Option<bool>,
}

/// What an output does.
#[derive(Clone, Debug)]
pub struct Output {
    /// The pin, by position.
    pub pin: usize,
    /// While it drives.
    pub enable: Rc<Func>,
    /// What it drives.
    pub level: Rc<Func>,
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
    /// Inner nets with a name, and what is on them.
    pub nodes: Vec<(String, Rc<Func>)>,
    /// Registers and latches.
    pub elements: Vec<Element>,
    /// Outputs.
    pub outputs: Vec<Output>,
}

#[derive(Deserialize)]
struct Table {
    part: Vec<Row>,
}

#[derive(Debug, Deserialize)]
struct Row {
    r#type: String,
    #[serde(default)]
    also: Vec<String>,
    /// Of a maker's own number: whose levels it has.
    family: Option<String>,
    pins: String,
    logic: String,
}

const TABLES: [&str; 2] = [include_str!("../data/combinational.toml"), include_str!("../data/sequential.toml")];

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
        let mut rows = HashMap::new();
        for text in TABLES {
            let table: Table = toml::from_str(text).map_err(fault)?;
            rows.extend(table.part.into_iter().map(|r| (r.r#type.clone(), r)));
        }
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
        let (row, is_ttl) = found.ok_or_else(|| format!("the checker has no model of `{text}` and refuses it"))?;
        let part = parse(&row.r#type, &row.pins, &row.logic);
        let part = part.map_err(|e| format!("the checker's own table, {}: {e}", row.r#type))?;
        Ok(Part { is_ttl, ..part })
    }

    /// A number of the 74 or 54 series, and whether its open inputs read high.
    fn numbered(&self, name: &str) -> Option<(&Row, bool)> {
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
        Some((all.find_map(|family| self.rows.get(&format!("74{family}{function}")))?, is_high))
    }

    fn of_4000(&self, name: &str) -> Option<(&Row, bool)> {
        self.families.before_4000.iter().find_map(|before| {
            let rest = name.strip_prefix(before.as_str())?;
            let (number, suffix) = rest.split_at_checked(rest.bytes().take_while(u8::is_ascii_digit).count())?;
            self.rows.get(&format!("CD{number}")).filter(|_| is_suffix(suffix)).map(|row| (row, false))
        })
    }

    /// A number of its maker's: the longest that the name begins with.
    fn own(&self, name: &str) -> Option<(&Row, bool)> {
        let short = name.trim_start_matches(|c: char| c.is_ascii_uppercase());
        let fits = |own: &str| {
            let rest = name.strip_prefix(own).or_else(|| short.strip_prefix(own));
            rest.is_some_and(|rest| is_suffix(rest) && !rest.starts_with(|c: char| c.is_ascii_digit()))
        };
        let of = self.rows.values().filter_map(|row| Some((row, row.family.as_ref()?)));
        let named = of.flat_map(|(row, family)| row.also.iter().chain([&row.r#type]).map(move |n| (n, row, family)));
        let (_, row, family) = named.filter(|(n, ..)| fits(n)).max_by_key(|(n, ..)| n.len())?;
        Some((row, self.families.high.contains(family)))
    }
}

/// What may stand behind a number: a revision and a package, never a misread digit.
fn is_suffix(text: &str) -> bool {
    let printed = text.split('_').next().unwrap_or_default();
    !printed.starts_with(['O', 'I']) && printed.chars().all(|c| c.is_ascii_alphanumeric() || "-.".contains(c))
}

struct Reading {
    part: Part,
    lets: HashMap<String, Rc<Func>>,
    by_name: HashMap<String, usize>,
    nodes: HashMap<String, usize>,
    elements: HashMap<String, usize>,
}

fn parse(name: &str, pins: &str, logic: &str) -> Result<Part, String> {
    let mut r = Reading {
        part: Part { name: name.to_owned(), is_ttl: true, ..Part::default() },
        lets: HashMap::new(),
        by_name: HashMap::new(),
        nodes: HashMap::new(),
        elements: HashMap::new(),
    };
    for text in pins.split(',').map(str::trim).filter(|t| !t.is_empty()) {
        let [number, name, role] = text.split_whitespace().collect::<Vec<_>>()[..] else {
            return Err(format!("the pin `{text}`"));
        };
        let role = match role {
            "in" => Role::Input,
            "out" => Role::Output,
            "tri" => Role::ThreeState,
            "oc" => Role::OpenCollector,
            "bus" => Role::Bus,
            "vcc" => Role::Vcc,
            "gnd" => Role::Gnd,
            "nc" => Role::Unconnected,
            _ => return Err(format!("the role `{role}`")),
        };
        r.by_name.insert(name.to_owned(), r.part.pins.len());
        r.part.pins.push(Pin { number: number.to_owned(), name: name.to_owned(), role });
    }
    let lines: Vec<&str> = logic.lines().map(str::trim).filter(|l| !l.is_empty()).collect();
    // names first: elements and inner nets may be read before their own line
    let low = Rc::new(Func::Constant(false));
    for line in &lines {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            [kind @ ("register" | "latch"), name, ..] => {
                r.elements.insert((*name).to_owned(), r.part.elements.len());
                r.part.elements.push(Element {
                    name: (*name).to_owned(),
                    kind: if *kind == "register" { Kind::Register } else { Kind::Latch },
                    gate: Rc::clone(&low),
                    data: Rc::clone(&low),
                    clear: Rc::clone(&low),
                    preset: Rc::clone(&low),
                    unknown: Rc::clone(&low),
                    start: None,
                });
            }
            ["node", name, ..] => {
                r.nodes.insert((*name).to_owned(), r.part.nodes.len());
                r.part.nodes.push(((*name).to_owned(), Rc::clone(&low)));
            }
            _ => {}
        }
    }
    for line in &lines {
        r.line(line).map_err(|e| format!("`{line}`: {e}"))?;
    }
    Ok(r.part)
}

impl Reading {
    fn line(&mut self, line: &str) -> Result<(), String> {
        let (word, rest) = line.split_once(' ').ok_or("a line of one word")?;
        match word {
            "register" | "latch" => return self.element(rest),
            "let" | "node" => {
                let (name, text) = rest.split_once(" = ").ok_or("no `=`")?;
                let value = self.expression(text)?;
                match self.nodes.get(name).and_then(|&n| self.part.nodes.get_mut(n)) {
                    Some(node) => node.1 = value,
                    None => {
                        self.lets.insert(name.to_owned(), value);
                    }
                }
                return Ok(());
            }
            _ => {}
        }
        let (name, text) = line.split_once(" = ").ok_or("no `=`")?;
        let value = self.expression(text)?;
        if let Some(name) = name.strip_suffix(".oe") {
            let pin = self.by_name.get(name).copied();
            let output = self.part.outputs.iter_mut().find(|o| Some(o.pin) == pin).ok_or("no such output")?;
            output.enable = value;
            return Ok(());
        }
        let Some(&pin) = self.by_name.get(name) else {
            // an inner name of the data sheet's equations
            self.lets.insert(name.to_owned(), value);
            return Ok(());
        };
        let role = self.part.pins.get(pin).map(|p| p.role);
        let output = match role {
            Some(Role::OpenCollector) => {
                Output { pin, enable: Rc::new(Func::Not(Rc::clone(&value))), level: Rc::new(Func::Constant(false)) }
            }
            Some(Role::Output | Role::ThreeState | Role::Bus) => {
                Output { pin, enable: Rc::new(Func::Constant(true)), level: Rc::clone(&value) }
            }
            _ => return Err("no output".to_owned()),
        };
        self.part.outputs.push(output);
        if role != Some(Role::Bus) {
            self.lets.insert(name.to_owned(), value);
        }
        Ok(())
    }

    fn element(&mut self, text: &str) -> Result<(), String> {
        let mut words = text.split_whitespace().peekable();
        let name = words.next().ok_or("no name")?;
        let at = *self.elements.get(name).ok_or("no such element")?;
        const WORDS: [&str; 6] = ["clock", "open", "data", "clear", "preset", "unknown"];
        while let Some(word) = words.next() {
            let mut expression = Vec::new();
            while let Some(next) = words.next_if(|w| !WORDS.contains(w)) {
                expression.push(next);
            }
            let value = self.expression(&expression.join(" "))?;
            let element = self.part.elements.get_mut(at).ok_or("no such element")?;
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

    fn expression(&self, text: &str) -> Result<Rc<Func>, String> {
        let mut tokens = Vec::new();
        let mut rest = text.trim_start();
        while let Some(first) = rest.chars().next() {
            let is_name = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '[' || c == ']';
            let length = if is_name(first) { rest.find(|c| !is_name(c)).unwrap_or(rest.len()) } else { 1 };
            let (token, after) = rest.split_at(length);
            tokens.push(token);
            rest = after.trim_start();
        }
        let mut at = Tokens { all: &tokens, at: 0, of: self };
        let value = at.level(0)?;
        if at.at < tokens.len() { Err(format!("what stands after place {}", at.at)) } else { Ok(value) }
    }

    fn name(&self, name: &str) -> Result<Rc<Func>, String> {
        if let Some(value) = self.lets.get(name) {
            return Ok(Rc::clone(value));
        }
        if let Some(&n) = self.nodes.get(name) {
            return Ok(Rc::new(Func::Node(n)));
        }
        if let Some(&e) = self.elements.get(name) {
            return Ok(Rc::new(Func::Held(e)));
        }
        match self.by_name.get(name).and_then(|&p| self.part.pins.get(p).map(|pin| (p, pin.role))) {
            Some((p, Role::Input | Role::Bus)) => Ok(Rc::new(Func::Pin(p))),
            _ => Err(format!("the name `{name}`")),
        }
    }
}

struct Tokens<'t> {
    all: &'t [&'t str],
    at: usize,
    of: &'t Reading,
}

impl<'t> Tokens<'t> {
    fn next(&mut self) -> Option<&'t str> {
        self.at += 1;
        self.all.get(self.at - 1).copied()
    }

    /// One level of binding: `|`, then `&`, then `^`, then `!` and names.
    fn level(&mut self, level: usize) -> Result<Rc<Func>, String> {
        const SIGNS: [&str; 3] = ["|", "&", "^"];
        let Some(&sign) = SIGNS.get(level) else { return self.one() };
        let mut all = vec![self.level(level + 1)?];
        while self.all.get(self.at) == Some(&sign) {
            self.at += 1;
            all.push(self.level(level + 1)?);
        }
        let Some(last) = all.pop() else { return Err("nothing".to_owned()) };
        if all.is_empty() {
            return Ok(last);
        }
        if level == 2 {
            return Ok(all.into_iter().fold(last, |x, y| Rc::new(Func::Xor(x, y))));
        }
        all.push(last);
        Ok(Rc::new(if level == 0 { Func::Any(all) } else { Func::All(all) }))
    }

    fn one(&mut self) -> Result<Rc<Func>, String> {
        match self.next().ok_or("it ends too early")? {
            "!" => Ok(Rc::new(Func::Not(self.one()?))),
            "(" => {
                let inner = self.level(0)?;
                if self.next() == Some(")") { Ok(inner) } else { Err("a parenthesis is open".to_owned()) }
            }
            word @ ("inv" | "pin") if self.all.get(self.at) == Some(&"(") => {
                self.at += 1;
                let name = self.next().ok_or("it ends too early")?;
                if self.next() != Some(")") {
                    return Err("a parenthesis is open".to_owned());
                }
                let found = if word == "inv" {
                    self.of.elements.get(name).map(|&e| Func::Complement(e))
                } else {
                    self.of.by_name.get(name).map(|&p| Func::Pin(p))
                };
                found.map(Rc::new).ok_or_else(|| format!("the name `{name}`"))
            }
            name => self.of.name(name),
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
            let driving = |r| matches!(r, Role::Output | Role::ThreeState | Role::OpenCollector | Role::Bus);
            for (i, pin) in part.pins.iter().enumerate() {
                assert_eq!(driving(pin.role), part.outputs.iter().any(|o| o.pin == i), "{t} pin {}", pin.number);
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
        assert!(library.part("74HCT138").unwrap().outputs.len() == 8 && !library.part("74HCT138").unwrap().is_ttl);
        assert!(library.part("SN75451BP").unwrap().is_ttl && library.part("74S138").unwrap().is_ttl);
        for other in ["74S573", "74HC266", "7451", "74LS16O", "74LS1I", "CD401", "LM358", "74LVCH245", "27C128"] {
            assert!(library.part(other).unwrap_err().contains(other), "{other}");
        }
        assert!(library.part("74LS123").unwrap_err().contains("74LS123"));
        assert!(library.part("7473").is_err(), "the plain type is a master-slave");
        assert!(library.part("Z80").is_err());
    }
}
