//! Reading a fuse file from bytes, wherever it comes from.
use std::collections::BTreeMap;
use std::sync::Arc;

use super::error::{FuseFileError, Problem};
use super::field::{Field, fields, fuse_number, hexadecimal_states, number, numbered, state, states, text};
use super::finding::{Finding, Irregularity};
use super::frame::{self, is_delimiter, lines, low_digits, shown};
use super::fuses::{checksum, sum};
use super::{FUSE_LIMIT, FuseFile, Fuses, Note, UserData, Vector};

/// Reads a fuse file; `name` is what messages call it. What is irregular but readable comes back as findings.
///
/// Fields may stand in any order behind the design specification. Unknown fields are skipped, K fields (fuse states in
/// hexadecimal) are read, later statements about a fuse or vector replace earlier ones.
///
/// # Errors
/// If the frame or a field is damaged, a checksum is wrong, a fuse is neither listed nor defaulted, or numbers are
/// absurd. The message names file, line, field and mend.
pub fn read(name: &str, bytes: &[u8]) -> Result<(FuseFile, Vec<Finding>), FuseFileError> {
    let error = |line, field: &str, problem| FuseFileError { file: name.into(), line, field: field.into(), problem };
    let frame = frame::open(bytes).map_err(|(line, problem)| error(line, "", problem))?;
    let wrong = frame.wrong;
    let reader = Reader { irregular: frame.irregular, ..Reader::default() };
    let read = fields_of(name, reader, frame.text, frame.first_line);
    let Some((line, found, stated)) = wrong else {
        let (file, irregular, _) = read?;
        return Ok(told(name, file, irregular));
    };
    match read {
        // the fuses vouch for themselves
        Ok((file, mut irregular, true)) => {
            irregular.insert(0, (line, Irregularity::WrongTransmissionChecksum { found, stated }));
            Ok(told(name, file, irregular))
        }
        _ => Err(error(line, "", Problem::TransmissionChecksum { found, stated })),
    }
}

/// A file with what is irregular about it.
fn told(name: &str, file: FuseFile, irregular: Vec<(u32, Irregularity)>) -> (FuseFile, Vec<Finding>) {
    let named: Arc<str> = name.into();
    let findings = irregular.into_iter().map(|(line, what)| Finding { file: Arc::clone(&named), line, what });
    (file, findings.collect())
}

/// What the fields between STX and ETX say, what is irregular about them, by line, and whether fuses are there and agree with
/// a checksum of their own.
type Said = (FuseFile, Vec<(u32, Irregularity)>, bool);

fn fields_of(name: &str, mut reader: Reader, text_of: &[u8], first_line: u32) -> Result<Said, FuseFileError> {
    let error = |line, field: &str, problem| FuseFileError { file: name.into(), line, field: field.into(), problem };
    let last_line = first_line + lines(text_of);
    let mut all = fields(text_of, first_line).into_iter();
    if let Some(design) = all.next() {
        if !design.ended {
            return Err(error(design.line, "design specification", Problem::Unended));
        }
        reader.file.design = text(design.text);
    }
    for field in all {
        let (identifier, rest) = field.split();
        if !field.ended {
            if field.text.is_empty() {
                break;
            }
            return Err(error(field.line, &identifier, Problem::Unended));
        }
        reader.field(&field, &identifier, rest).map_err(|problem| error(field.line, &identifier, problem))?;
    }
    let has_sum = reader.stated_sum.is_some();
    let (file, mut irregular) =
        reader.finish(last_line).map_err(|At { line, field, problem }| error(line, field, problem))?;
    irregular.sort_by_key(|&(line, _)| line);
    let vouched = has_sum && !file.fuses.is_empty();
    Ok((file, irregular, vouched))
}

/// A problem that only shows at the end.
struct At {
    line: u32,
    field: &'static str,
    problem: Problem,
}

#[derive(Default)]
struct Reader {
    file: FuseFile,
    irregular: Vec<(u32, Irregularity)>,
    /// What is stated for each fuse, up to the last one listed.
    listed: Vec<Option<bool>>,
    /// Line and last fuse of the field that lists the highest fuse.
    highest: Option<(u32, usize)>,
    count: Option<usize>,
    default: Option<bool>,
    security: Option<bool>,
    /// Whether electrical data were there.
    electrical: bool,
    stated_sum: Option<(u32, u16)>,
    most_vectors: Option<usize>,
    vectors: BTreeMap<u32, (u32, String)>,
    pin_list_line: u32,
    /// Notes whose place isn't known yet, and whether the next listed fuse is their place.
    notes: Vec<String>,
    rows_began: bool,
    /// Whether a programming or testing field was there.
    began: bool,
}

impl Reader {
    fn field(&mut self, field: &Field<'_>, identifier: &str, rest: &[u8]) -> Result<(), Problem> {
        let late = self.began;
        match identifier {
            "N" => self.notes.push(text(rest)),
            "L" | "K" => return self.list(field.line, identifier, rest),
            _ => self.place_notes(None),
        }
        match identifier {
            "" => self.irregular.push((field.line, Irregularity::EmptyField)),
            "QF" => once(&mut self.count, fuse_number(rest)?)?,
            "QP" => once(&mut self.file.pins, small(rest)?)?,
            "QV" => once(&mut self.most_vectors, small(rest)?)?,
            "F" => {
                once_state(&mut self.default, state(rest)?)?;
                self.rows_began = true;
            }
            "X" => once_state(&mut self.file.default_level, state(rest)?)?,
            "G" => {
                once_state(&mut self.security, state(rest)?)?;
                self.file.security = self.security == Some(true);
            }
            "C" => {
                let digits = low_digits(rest).filter(|_| rest.len() >= 4);
                let sum = digits.ok_or_else(|| Problem::NotAChecksum(shown(rest)))?;
                if rest.len() > 4 {
                    self.irregular.push((field.line, Irregularity::LongChecksum(shown(rest))));
                }
                once(&mut self.stated_sum.map(|(_, first)| Hexadecimal(first)), Hexadecimal(sum))?;
                self.stated_sum = Some((field.line, sum));
            }
            "E" => {
                if std::mem::replace(&mut self.electrical, true) {
                    self.irregular.push((field.line, Irregularity::Again(identifier.into())));
                }
                if self.stated_sum.is_some() || self.file.user.is_some() {
                    self.irregular.push((field.line, Irregularity::Late(identifier.into())));
                }
                self.file.electrical = states(rest)?;
            }
            "U" | "UH" | "UA" => {
                if self.file.user.is_some() {
                    self.irregular.push((field.line, Irregularity::Again(identifier.into())));
                }
                self.file.user = Some(match identifier {
                    "UH" => UserData::Hex(text(rest)),
                    "UA" => UserData::Text(text(rest)),
                    _ => UserData::Bits(states(rest)?),
                });
            }
            "P" => {
                if self.pin_list_line != 0 {
                    self.irregular.push((field.line, Irregularity::Again(identifier.into())));
                }
                self.pin_list_line = field.line;
                let words = rest.split(|&b| is_delimiter(b)).filter(|w| !w.is_empty());
                self.file.pin_order = words.map(pin).collect::<Result<_, _>>()?;
            }
            "V" => self.vector(field.line, rest)?,
            "N" => {}
            _ => self.irregular.push((field.line, Irregularity::Skipped(identifier.into()))),
        }
        match identifier {
            "QF" | "QP" | "QV" if late => self.irregular.push((field.line, Irregularity::Late(identifier.into()))),
            "N" | "" | "QF" | "QP" | "QV" => {}
            _ => self.began = true,
        }
        Ok(())
    }

    fn list(&mut self, line: u32, identifier: &str, rest: &[u8]) -> Result<(), Problem> {
        let (digits, behind) = numbered(rest);
        let first = fuse_number(digits)?;
        if identifier == "K" && rest.get(digits.len()).is_some_and(|&b| !is_delimiter(b)) {
            return Err(Problem::NoSpace(shown(digits)));
        }
        let rest = behind;
        let states = if identifier == "K" { hexadecimal_states(rest)? } else { states(rest)? };
        if states.is_empty() {
            return Err(Problem::NoStates(shown(digits)));
        }
        let end = first + states.len();
        if end > FUSE_LIMIT {
            return Err(Problem::TooManyFuses(end.to_string()));
        }
        self.place_notes(self.rows_began.then_some(first));
        (self.began, self.rows_began) = (true, true);
        if self.listed.len() < end {
            self.listed.resize(end, None);
            self.highest = Some((line, end - 1));
        }
        let mut relisted = None;
        for (fuse, state) in (first..).zip(states) {
            if let Some(listed) = self.listed.get_mut(fuse) {
                if listed.is_some_and(|before| before != state) {
                    relisted = relisted.or(Some(fuse));
                }
                *listed = Some(state);
            }
        }
        self.irregular.extend(relisted.map(|fuse| (line, Irregularity::Relisted(fuse))));
        self.file.lines.push(first);
        Ok(())
    }

    fn vector(&mut self, line: u32, rest: &[u8]) -> Result<(), Problem> {
        let (digits, rest) = numbered(rest);
        let number = u32::try_from(number(digits)?).map_err(|_| Problem::NotANumber(shown(digits)))?;
        let conditions: Vec<u8> = rest.iter().copied().filter(|&b| !is_delimiter(b)).collect();
        let known =
            |c: char| matches!(c, '0'..='9' | 'B' | 'C' | 'D' | 'F' | 'H' | 'K' | 'L' | 'N' | 'P' | 'U' | 'X' | 'Z');
        let conditions = text(&conditions);
        if let Some(odd) = conditions.chars().find(|&c| !known(c)) {
            self.irregular.push((line, Irregularity::Condition(number, odd)));
        }
        if self.vectors.insert(number, (line, conditions)).is_some() {
            self.irregular.push((line, Irregularity::VectorAgain(number)));
        }
        Ok(())
    }

    /// Notes that were read so far stand before this fuse, or are about the whole file.
    fn place_notes(&mut self, before: Option<usize>) {
        self.file.notes.extend(self.notes.drain(..).map(|text| Note { before, text }));
    }

    fn finish(mut self, last_line: u32) -> Result<(FuseFile, Vec<(u32, Irregularity)>), At> {
        self.place_notes(None);
        let count = match (self.count, self.highest) {
            (Some(count), Some((line, fuse))) if fuse >= count => {
                return Err(At { line, field: "L", problem: Problem::BeyondLast { fuse, count } });
            }
            (Some(count), _) => count,
            (None, None) => 0,
            (None, Some((line, fuse))) => {
                self.irregular.push((line, Irregularity::NoFuseCount(fuse + 1)));
                fuse + 1
            }
        };
        self.listed.resize(count, None);
        let mut fuses = Vec::with_capacity(count);
        for (fuse, listed) in self.listed.iter().enumerate() {
            match listed.or(self.default) {
                Some(state) => fuses.push(state),
                None => return Err(At { line: last_line, field: "", problem: Problem::NotListed(fuse) }),
            }
        }
        self.file.fuses = Fuses::from(fuses);
        self.check_sum(last_line)?;
        self.check_vectors()?;
        Ok((self.file, self.irregular))
    }

    fn check_sum(&mut self, last_line: u32) -> Result<(), At> {
        let electrical = &self.file.electrical;
        let found = self.file.fuses.checksum().wrapping_add(checksum(electrical));
        match self.stated_sum {
            Some((_, stated)) if stated == found => Ok(()),
            Some((line, stated)) => {
                let whole = sum(self.file.fuses.states()) + sum(electrical);
                let other_modulus = whole % 65535 == u64::from(stated);
                Err(At { line, field: "C", problem: Problem::FuseChecksum { found, stated, other_modulus } })
            }
            None if self.file.fuses.is_empty() && electrical.is_empty() => Ok(()),
            None => {
                self.irregular.push((last_line, Irregularity::NoFuseChecksum));
                Ok(())
            }
        }
    }

    fn check_vectors(&mut self) -> Result<(), At> {
        let order = self.file.pin_order.len();
        match self.file.pins {
            Some(expected) => {
                for (&number, (line, conditions)) in &self.vectors {
                    let found = conditions.chars().count();
                    if found != expected {
                        let problem = Problem::VectorLength { number, found, expected };
                        return Err(At { line: *line, field: "V", problem });
                    }
                }
                if order != 0 && order != expected {
                    let problem = Problem::PinListLength { found: order, expected };
                    return Err(At { line: self.pin_list_line, field: "P", problem });
                }
            }
            None => {
                let first = self.vectors.values().map(|(line, _)| *line).min();
                self.irregular.extend(first.map(|line| (line, Irregularity::NoPinCount)));
            }
        }
        let found = self.vectors.len();
        if let Some(stated) = self.most_vectors.filter(|&stated| stated < found) {
            let line = self.vectors.values().map(|(line, _)| *line).max().unwrap_or_default();
            self.irregular.push((line, Irregularity::MoreVectors { found, stated }));
        }
        let vectors = std::mem::take(&mut self.vectors).into_iter();
        self.file.vectors = vectors.map(|(number, (_, conditions))| Vector { number, conditions }).collect();
        Ok(())
    }
}

/// Takes a value that may be stated again, but not differently.
fn once<T: PartialEq + Copy + std::fmt::Display>(held: &mut Option<T>, value: T) -> Result<(), Problem> {
    match *held {
        Some(first) if first != value => {
            Err(Problem::Contradiction { first: first.to_string(), second: value.to_string() })
        }
        _ => {
            *held = Some(value);
            Ok(())
        }
    }
}

/// The same for a state, which messages show as the file does.
fn once_state(held: &mut Option<bool>, value: bool) -> Result<(), Problem> {
    once(&mut held.map(u8::from), u8::from(value))?;
    *held = Some(value);
    Ok(())
}

/// A checksum as it is written.
#[derive(Clone, Copy, PartialEq)]
struct Hexadecimal(u16);

impl std::fmt::Display for Hexadecimal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04X}", self.0)
    }
}

fn small(text: &[u8]) -> Result<usize, Problem> {
    usize::try_from(number(text)?).map_err(|_| Problem::NotANumber(shown(text)))
}

fn pin(text: &[u8]) -> Result<u16, Problem> {
    u16::try_from(number(text)?).map_err(|_| Problem::NotANumber(shown(text)))
}
