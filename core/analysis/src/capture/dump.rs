//! Captures as value change dumps (IEEE 1364, *Value change dump (VCD) files*). The library reads the tokens; what is done
//! here bounds them, names the bits of vectors and keeps only what a contact is on.
use std::collections::HashMap;
use std::io::{self, BufRead};

use vcd::{Command, IdCode, Parser, ReferenceIndex, Value};

use super::bounded::Bounded;
use super::channels::Wired;
use super::error::{CaptureError, CaptureErrorKind};
use super::record::{Capture, Sample};

/// The most variables in a dump: with more, names alone would fill memory.
const MOST_CHANNELS: usize = 100_000;
const DEEPEST_SCOPE: usize = 256;

/// The bits of one variable: each with the name of its channel, most significant first.
struct Variable {
    code: IdCode,
    bits: Vec<Vec<String>>,
}

/// A dump whose header is read.
pub(super) struct Dump<R> {
    file: String,
    parser: Parser<Bounded<io::Chain<R, &'static [u8]>>>,
    variables: Vec<Variable>,
    /// Picoseconds in a thousandth of a unit of time.
    scale: Scale,
}

/// How a number of the file becomes picoseconds.
#[derive(Clone, Copy)]
struct Scale {
    times: u64,
    over: u64,
}

impl<R: BufRead> Dump<R> {
    /// Reads the header.
    pub(super) fn open(file: &str, reader: R) -> Result<Dump<R>, CaptureError> {
        // a last token without a line's end is a token all the same
        let bounded = Bounded::new(reader.chain(&b"\n"[..]));
        let mut dump = Dump {
            file: file.to_owned(),
            parser: Parser::new(bounded),
            variables: Vec::new(),
            scale: Scale { times: 1000, over: 1 },
        };
        let mut scopes: Vec<String> = Vec::new();
        let mut count = 0;
        loop {
            match dump.next()? {
                None => return Err(dump.wrong("the file ends before its definitions do", "capture it anew")),
                Some(Command::Enddefinitions) => return Ok(dump),
                Some(Command::Timescale(n, unit)) => dump.scale = dump.timescale(n, unit)?,
                Some(Command::ScopeDef(_, name)) => {
                    if scopes.len() >= DEEPEST_SCOPE {
                        return Err(dump.too_much(format!("scopes more than {DEEPEST_SCOPE} deep")));
                    }
                    scopes.push(name);
                }
                Some(Command::Upscope) => {
                    scopes.pop();
                }
                Some(Command::VarDef(_, size, code, reference, index)) => {
                    count += usize::try_from(size.max(1)).unwrap_or(usize::MAX).min(MOST_CHANNELS);
                    if count >= MOST_CHANNELS {
                        return Err(dump.too_much(format!("more than {MOST_CHANNELS} channels")));
                    }
                    let bits = bits(&scopes, &reference, size, index);
                    dump.variables.push(Variable { code, bits });
                }
                Some(_) => {}
            }
        }
    }

    /// The names of all channels: each bit by its own name, and by its path where that is longer.
    pub(super) fn channels(&self) -> Vec<String> {
        self.variables.iter().flat_map(|v| v.bits.iter().flatten().cloned()).collect()
    }

    /// The names of each channel: its own, and its path where that is longer.
    pub(super) fn names(&self) -> Vec<Vec<String>> {
        self.variables.iter().flat_map(|v| v.bits.iter().cloned()).collect()
    }

    /// Reads the changes.
    pub(super) fn read(mut self, wired: &Wired, mut progress: impl FnMut(u64)) -> Result<Capture, CaptureError> {
        let mut capture = Capture::new(&self.file, wired.wires.len());
        let mut by_code: HashMap<IdCode, Vec<Option<u16>>> = HashMap::new();
        for v in &self.variables {
            let wires: Vec<Option<u16>> = v
                .bits
                .iter()
                .map(|names| names.iter().find_map(|n| wired.by_channel.get(&n.to_lowercase()).copied()))
                .collect();
            if wires.iter().any(Option::is_some) {
                by_code.entry(v.code).or_insert(wires);
            }
        }
        let mut time = 0;
        while let Some(command) = self.next()? {
            let line = self.parser.line();
            match command {
                Command::Timestamp(t) => {
                    let scaled = t.checked_mul(self.scale.times).map(|t| t / self.scale.over);
                    time = scaled.ok_or_else(|| {
                        self.error(
                            CaptureErrorKind::Time,
                            "a time that is centuries away".to_owned(),
                            "capture it anew",
                        )
                    })?;
                    progress(line);
                    if time < capture.end {
                        return Err(self.error(
                            CaptureErrorKind::Time,
                            "time runs backwards here".to_owned(),
                            "save the capture anew, sorted by time",
                        ));
                    }
                    capture.end = time;
                }
                Command::ChangeScalar(code, value) => {
                    if let Some(&[Some(wire)]) = by_code.get(&code).map(Vec::as_slice) {
                        capture.push(time, wire, sample(value), line)?;
                    }
                }
                Command::ChangeVector(code, values) => {
                    let Some(wires) = by_code.get(&code) else { continue };
                    let given: Vec<Value> = values.iter().collect();
                    // a short value is filled on the left: with its first digit if that is x or z, else with 0
                    let fill = match given.first() {
                        Some(&v @ (Value::X | Value::Z)) => v,
                        _ => Value::V0,
                    };
                    let short = wires.len().saturating_sub(given.len());
                    let skip = given.len().saturating_sub(wires.len());
                    let all = std::iter::repeat_n(fill, short).chain(given.iter().skip(skip).copied());
                    for (wire, value) in wires.iter().zip(all) {
                        if let Some(wire) = wire {
                            capture.push(time, *wire, sample(value), line)?;
                        }
                    }
                }
                _ => {}
            }
        }
        Ok(capture)
    }

    fn next(&mut self) -> Result<Option<Command>, CaptureError> {
        self.parser.reader().renew();
        match self.parser.next() {
            None => Ok(None),
            Some(Ok(command)) => Ok(Some(command)),
            Some(Err(e)) if e.kind() == io::ErrorKind::UnexpectedEof => {
                Err(self.wrong("the file ends in the middle of a command", "it was cut short: capture or copy it anew"))
            }
            Some(Err(e)) => {
                let inner = e.get_ref().and_then(|e| e.downcast_ref::<vcd::ParseError>());
                Err(match inner {
                    Some(p) => {
                        let mend = "is this a value change dump? A CSV file must end in .csv";
                        CaptureError::new(
                            &self.file,
                            Some(p.line()),
                            CaptureErrorKind::Format,
                            p.kind().to_string(),
                            mend,
                        )
                    }
                    None if e.kind() == io::ErrorKind::Other => self.too_much(e.to_string()),
                    None => self.error(CaptureErrorKind::Unreadable, e.to_string(), "see that the file can be read"),
                })
            }
        }
    }

    fn timescale(&self, n: u32, unit: vcd::TimescaleUnit) -> Result<Scale, CaptureError> {
        use vcd::TimescaleUnit::{FS, MS, NS, PS, S, US};
        let n = u64::from(n);
        let (times, over) = match unit {
            FS => (n, 1000),
            PS => (n, 1),
            NS => (n.saturating_mul(1000), 1),
            US => (n.saturating_mul(1_000_000), 1),
            MS => (n.saturating_mul(1_000_000_000), 1),
            S => (n.saturating_mul(1_000_000_000_000), 1),
        };
        if n == 0 {
            return Err(self.wrong("a unit of time that is nothing", "write a timescale like 1 ns"));
        }
        Ok(Scale { times, over })
    }

    fn error(&self, kind: CaptureErrorKind, message: String, mend: &str) -> CaptureError {
        CaptureError::new(&self.file, Some(self.parser.line()), kind, message, mend)
    }

    fn wrong(&self, message: &str, mend: &str) -> CaptureError {
        self.error(CaptureErrorKind::Format, message.to_owned(), mend)
    }

    fn too_much(&self, message: String) -> CaptureError {
        self.error(CaptureErrorKind::TooMuch, message, "is this the right file?")
    }
}

fn sample(value: Value) -> Sample {
    match value {
        Value::V0 => Sample::Low,
        Value::V1 => Sample::High,
        Value::X => Sample::Unknown,
        Value::Z => Sample::Floating,
    }
}

/// The names of the bits of a variable, most significant first: `data[3]`, and with the scopes before it.
fn bits(scopes: &[String], reference: &str, size: u32, index: Option<ReferenceIndex>) -> Vec<Vec<String>> {
    let path: String = scopes.iter().fold(String::new(), |path, s| format!("{path}{s}.")).chars().take(1000).collect();
    let reference: String = reference.chars().take(1000).collect();
    let name = |bit: String| {
        let plain = format!("{reference}{bit}");
        if path.is_empty() { vec![plain] } else { vec![plain.clone(), format!("{path}{plain}")] }
    };
    match (size, index) {
        (0 | 1, None) => vec![name(String::new())],
        (0 | 1, Some(ReferenceIndex::BitSelect(i))) => vec![name(format!("[{i}]"))],
        (n, range) => {
            let (msb, down) = match range {
                Some(ReferenceIndex::Range(msb, lsb)) => (i64::from(msb), msb >= lsb),
                _ => (i64::from(n) - 1, true),
            };
            (0..i64::from(n)).map(|k| name(format!("[{}]", if down { msb - k } else { msb + k }))).collect()
        }
    }
}
