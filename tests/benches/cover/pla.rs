//! Reads functions of the Berkeley PLA set: `.i`, `.o`, rows of input and output columns.
use std::fmt;
use std::fs;
use std::path::Path;

use gluewright_devices::cover::{Cover, CoverError, Cube, Function};

/// What keeps a file from being read.
#[derive(Debug)]
pub struct PlaError(pub String);

impl fmt::Display for PlaError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl From<CoverError> for PlaError {
    fn from(e: CoverError) -> PlaError {
        PlaError(e.to_string())
    }
}

/// A file of rows.
#[derive(Debug)]
pub struct Pla {
    inputs: usize,
    rows: Vec<(Cube, Vec<u8>)>,
}

impl Pla {
    /// Reads a file.
    pub fn read(path: &Path) -> Result<Pla, PlaError> {
        let text = fs::read_to_string(path).map_err(|e| PlaError(format!("{}: {e}", path.display())))?;
        let mut pla = Pla { inputs: 0, rows: Vec::new() };
        let mut outputs = 0;
        for (at, line) in text.lines().enumerate() {
            let wrong = |what: &str| PlaError(format!("{}:{}: {what}", path.display(), at + 1));
            let line = line.split('#').next().unwrap_or("").replace('|', " ");
            let words: Vec<&str> = line.split_whitespace().collect();
            let number = || words.get(1).and_then(|w| w.parse().ok()).ok_or_else(|| wrong("a number is missing"));
            match words.first() {
                Some(&".i") => pla.inputs = number()?,
                Some(&".o") => outputs = number()?,
                Some(&(".e" | ".end")) => break,
                // other keywords change nothing here; a line of letters is a title
                Some(word) if word.starts_with(|c: char| c == '.' || c.is_ascii_alphabetic()) => {}
                None => {}
                Some(_) => {
                    let columns = words.concat().into_bytes();
                    if columns.len() != pla.inputs + outputs {
                        return Err(wrong("the row has the wrong number of columns"));
                    }
                    let (inputs, outputs) = columns.split_at(pla.inputs);
                    let of = |level: u8| inputs.iter().enumerate().fold(0, |m, (i, &c)| m | u64::from(c == level) << i);
                    let cube = Cube::new(of(b'1'), of(b'0')).ok_or_else(|| wrong("a column is high and low"))?;
                    pla.rows.push((cube, outputs.to_vec()));
                }
            }
        }
        Ok(pla)
    }

    /// The function of one output. The set's type `fd`: `1` is high, `-` and `2` are free (also where a `1` is), and
    /// the rest is low.
    pub fn output(&self, output: usize) -> Result<Function, PlaError> {
        let with = |columns: &[u8]| {
            let chosen = self.rows.iter().filter(|(_, o)| o.get(output).is_some_and(|c| columns.contains(c)));
            Cover::new(self.inputs as u32, chosen.map(|r| r.0).collect())
        };
        let (on, free) = (with(b"1")?, with(b"-2")?);
        let on = if free.is_empty() { on } else { on.minus(&free)? };
        Ok(Function::new(on, free)?)
    }
}
