//! From words to the parts of a module.
use super::tokens::Word;
use super::{NetlistError, NetlistProblem, wrong};

/// How deeply expressions may be nested.
const DEPTH: u32 = 32;

/// A level.
#[derive(Clone, Debug)]
pub(super) enum Level {
    Bit(bool),
    Name(String, u32),
    Not(Box<Level>),
    And(Vec<Level>),
    Or(Vec<Level>),
}

/// What a name is declared as.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Declared {
    Input(Vec<u16>),
    Output(Vec<u16>),
    Inout(Vec<u16>),
    Wire,
    Reg,
}

/// What a name is defined as.
#[derive(Clone, Debug)]
pub(super) enum Defined {
    Assign { enable: Option<Level>, level: Level },
    Register { clock: (String, u32), clear: Option<(String, u32)>, preset: Option<(String, u32)>, next: Level },
    Latch { clear: Option<Level>, preset: Option<Level>, gate: Option<(Level, Level)> },
    Initial(bool),
}

/// A module: its ports, declarations and definitions with their lines.
#[derive(Clone, Debug, Default)]
pub(super) struct Module {
    pub(super) name: String,
    pub(super) ports: Vec<(String, u32)>,
    pub(super) declared: Vec<(String, u32, Declared)>,
    pub(super) defined: Vec<(String, u32, Defined)>,
}

pub(super) fn module(words: Vec<(Word, u32)>) -> Result<Module, NetlistError> {
    let mut p = Parser { words, at: 0 };
    let mut module = Module::default();
    p.keyword("module")?;
    module.name = p.name("the name of the module")?.0;
    p.sign("(")?;
    // a circuit of which no contact is wired has none
    if !p.has(")") {
        loop {
            module.ports.push(p.name("the name of a port")?);
            if !p.has(",") {
                break;
            }
        }
        p.sign(")")?;
    }
    p.sign(";")?;
    loop {
        let (word, line) = p.next();
        let Word::Name(word) = word else { return Err(expected(line, "a declaration or definition", &word)) };
        match word.as_str() {
            "endmodule" => break,
            "input" | "output" | "inout" => {
                let (name, line) = p.name("the name of a port")?;
                p.sign(";")?;
                let Word::Place(pins) = p.peek().clone() else {
                    return Err(wrong(line, NetlistProblem::NoPlace(name)));
                };
                p.at += 1;
                let declared = match word.as_str() {
                    "input" => Declared::Input(pins),
                    "output" => Declared::Output(pins),
                    _ => Declared::Inout(pins),
                };
                module.declared.push((name, line, declared));
            }
            "wire" | "reg" => {
                let (name, line) = p.name("a name")?;
                p.sign(";")?;
                module.declared.push((name, line, if word == "wire" { Declared::Wire } else { Declared::Reg }));
            }
            "assign" => {
                let (name, line) = p.name("a name")?;
                p.sign("=")?;
                let first = p.level(0)?;
                let defined = if p.has("?") {
                    let level = p.level(0)?;
                    p.sign(":")?;
                    p.bit('z')?;
                    Defined::Assign { enable: Some(first), level }
                } else {
                    Defined::Assign { enable: None, level: first }
                };
                p.sign(";")?;
                module.defined.push((name, line, defined));
            }
            "initial" => {
                let (name, line) = p.name("a name")?;
                p.sign("=")?;
                let high = match p.next() {
                    (Word::Bit('0'), _) => false,
                    (Word::Bit('1'), _) => true,
                    (other, line) => return Err(expected(line, "a level", &other)),
                };
                p.sign(";")?;
                module.defined.push((name, line, Defined::Initial(high)));
            }
            "always" => {
                p.sign("@")?;
                let one = if p.has("*") { p.latch()? } else { p.register()? };
                module.defined.push(one);
            }
            _ => return Err(expected(line, "a declaration or definition", &Word::Name(word))),
        }
    }
    match p.next() {
        (Word::End, _) => Ok(module),
        (other, line) => Err(expected(line, "the end of the file", &other)),
    }
}

fn expected(line: u32, expected: &'static str, found: &Word) -> NetlistError {
    const LONGEST: usize = 60;
    let mut found = found.to_string();
    if let Some((at, _)) = found.char_indices().nth(LONGEST) {
        found.truncate(at);
        found.push('…');
    }
    wrong(line, NetlistProblem::Expected { expected, found })
}

struct Parser {
    words: Vec<(Word, u32)>,
    at: usize,
}

impl Parser {
    fn peek(&self) -> &Word {
        self.words.get(self.at).map_or(&Word::End, |(w, _)| w)
    }

    fn next(&mut self) -> (Word, u32) {
        let last = self.words.last().map_or(0, |(_, line)| *line);
        let word = self.words.get(self.at).cloned().unwrap_or((Word::End, last));
        self.at += 1;
        word
    }

    fn has(&mut self, sign: &'static str) -> bool {
        let there = *self.peek() == Word::Sign(sign);
        self.at += usize::from(there);
        there
    }

    fn is(&self, keyword: &str) -> bool {
        matches!(self.peek(), Word::Name(name) if name == keyword)
    }

    fn sign(&mut self, sign: &'static str) -> Result<(), NetlistError> {
        match self.next() {
            (Word::Sign(s), _) if s == sign => Ok(()),
            (other, line) => Err(expected(line, sign, &other)),
        }
    }

    fn keyword(&mut self, keyword: &'static str) -> Result<(), NetlistError> {
        match self.next() {
            (Word::Name(n), _) if n == keyword => Ok(()),
            (other, line) => Err(expected(line, keyword, &other)),
        }
    }

    fn name(&mut self, what: &'static str) -> Result<(String, u32), NetlistError> {
        match self.next() {
            (Word::Name(name), line) => Ok((name, line)),
            (other, line) => Err(expected(line, what, &other)),
        }
    }

    fn bit(&mut self, bit: char) -> Result<(), NetlistError> {
        match self.next() {
            (Word::Bit(b), _) if b == bit => Ok(()),
            (other, line) => Err(expected(line, if bit == 'z' { "1'bz" } else { "a level" }, &other)),
        }
    }

    fn level(&mut self, depth: u32) -> Result<Level, NetlistError> {
        let mut sum = vec![self.product(depth)?];
        while self.has("|") {
            sum.push(self.product(depth)?);
        }
        Ok(if sum.len() == 1 { sum.remove(0) } else { Level::Or(sum) })
    }

    fn product(&mut self, depth: u32) -> Result<Level, NetlistError> {
        let mut product = vec![self.operand(depth)?];
        while self.has("&") {
            product.push(self.operand(depth)?);
        }
        Ok(if product.len() == 1 { product.remove(0) } else { Level::And(product) })
    }

    fn operand(&mut self, depth: u32) -> Result<Level, NetlistError> {
        let (word, line) = self.next();
        if depth > DEPTH {
            return Err(wrong(line, NetlistProblem::TooDeep));
        }
        match word {
            Word::Bit('0') => Ok(Level::Bit(false)),
            Word::Bit('1') => Ok(Level::Bit(true)),
            Word::Name(name) => Ok(Level::Name(name, line)),
            Word::Sign("~") => Ok(Level::Not(Box::new(self.operand(depth + 1)?))),
            Word::Sign("(") => {
                let level = self.level(depth + 1)?;
                self.sign(")")?;
                Ok(level)
            }
            other => Err(expected(line, "a level", &other)),
        }
    }

    /// `(posedge clock or posedge clear …) if (clear) q <= #1 1'b0; else … q <= #1 next;`
    fn register(&mut self) -> Result<(String, u32, Defined), NetlistError> {
        self.sign("(")?;
        self.keyword("posedge")?;
        let clock = self.name("a clock")?;
        let mut edges = Vec::new();
        while self.is("or") {
            self.at += 1;
            self.keyword("posedge")?;
            edges.push(self.name("a line")?);
        }
        self.sign(")")?;
        let (mut lines, mut target) = ([None, None], None);
        for edge in edges {
            self.keyword("if")?;
            self.sign("(")?;
            let line = self.name("a line")?;
            self.sign(")")?;
            if line.0 != edge.0 {
                return Err(expected(line.1, "the lines in the order of their edges", &Word::Name(line.0)));
            }
            self.target(&mut target)?;
            self.sign("<=")?;
            self.delay()?;
            let (word, at) = self.next();
            let slot = match word {
                Word::Bit('0') => lines.first_mut(),
                Word::Bit('1') => lines.last_mut(),
                other => return Err(expected(at, "a level", &other)),
            };
            match slot {
                Some(slot) if slot.is_none() => *slot = Some(line),
                _ => return Err(expected(at, "a clear before a preset", &Word::Name(line.0))),
            }
            self.sign(";")?;
            self.keyword("else")?;
        }
        self.target(&mut target)?;
        self.sign("<=")?;
        self.delay()?;
        let next = self.level(0)?;
        self.sign(";")?;
        let [clear, preset] = lines;
        let (name, line) = target.unwrap_or_default();
        Ok((name, line, Defined::Register { clock, clear, preset, next }))
    }

    /// ` if (clear) q = 1'b0; else if (preset) q = 1'b1; else if (gate) q = level;`
    fn latch(&mut self) -> Result<(String, u32, Defined), NetlistError> {
        let mut target = None;
        let mut parts: Vec<(Level, Level)> = Vec::new();
        loop {
            self.keyword("if")?;
            self.sign("(")?;
            let condition = self.level(0)?;
            self.sign(")")?;
            self.target(&mut target)?;
            self.sign("=")?;
            parts.push((condition, self.level(0)?));
            self.sign(";")?;
            if !self.is("else") {
                break;
            }
            self.at += 1;
        }
        let (name, line) = target.unwrap_or_default();
        let (mut clear, mut preset, mut gate) = (None, None, None);
        let count = parts.len();
        for (index, (condition, level)) in parts.into_iter().enumerate() {
            let last = index + 1 == count;
            match level {
                Level::Bit(false) if index == 0 && !last => clear = Some(condition),
                Level::Bit(true) if preset.is_none() && !last => preset = Some(condition),
                level if last => gate = Some((condition, level)),
                _ => return Err(expected(line, "clear, preset and gate in this order", &Word::Name(name))),
            }
        }
        Ok((name, line, Defined::Latch { clear, preset, gate }))
    }

    fn delay(&mut self) -> Result<(), NetlistError> {
        match self.next() {
            (Word::Delay, _) => Ok(()),
            (other, line) => Err(expected(line, "#1", &other)),
        }
    }

    /// The register or latch that is defined: the same throughout.
    fn target(&mut self, target: &mut Option<(String, u32)>) -> Result<(), NetlistError> {
        let (name, line) = self.name("the name of a register")?;
        match target {
            None => *target = Some((name, line)),
            Some((known, _)) if *known == name => {}
            Some(_) => return Err(expected(line, "the same register throughout", &Word::Name(name))),
        }
        Ok(())
    }
}
