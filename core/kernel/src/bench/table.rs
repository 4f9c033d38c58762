//! Tables: each row sets inputs and says what must be seen then.
use super::{Bench, BenchError, Put};
use crate::simulate::Shown;

/// A cell left of the bar.
enum Does {
    Keeps,
    Pulses,
    Puts(Put),
    Asserts,
    Releases,
    Counts(u64),
}

/// A cell right of the bar.
enum Wants {
    Anything,
    Level(Put),
    Floats,
    Asserted(bool),
    Number(u64),
}

impl<C> Bench<C> {
    /// Runs a table. Its first line names what is set, a bar, and what is looked at; each other line is a step: what is set,
    /// from left to right, and then the pulses.
    ///
    /// What is set is `low`, `high`, `asserted`, `released`, `pulse`, a number for an array, or `-`, which leaves it as it is;
    /// what is looked at is `low`, `high`, `floating`, `asserted`, `released`, a number, or `-`, which may be anything. A
    /// buried element can be looked at as well. What stands behind `#` is said to a reader only.
    ///
    /// # Errors
    /// The first row that shows something else, or that can't be read or done, with its line.
    pub fn table(&mut self, table: &str) -> Result<&mut Self, BenchError> {
        let mut rows = (1..).zip(table.lines()).filter_map(|(line, text)| {
            let text = text.split('#').next().unwrap_or_default().trim();
            (!text.is_empty()).then_some((line, text))
        });
        let Some((line, head)) = rows.next() else { return Ok(self) };
        let (sets, sees) = split(line, head)?;
        let names = (words(sets), words(sees));
        for (line, row) in rows {
            let (does, wants) = split(line, row)?;
            let (does, wants) = (words(does), words(wants));
            let counts = [(names.0.len(), does.len()), (names.1.len(), wants.len())];
            if let Some((wanted, given)) = counts.into_iter().find(|(wanted, given)| wanted != given) {
                let why = format!("{given} words stand on this side of the bar, and {wanted} names in the first line");
                return Err(BenchError::Table { line, why });
            }
            let mut todo = Vec::new();
            for (name, word) in names.0.iter().zip(does) {
                todo.push((name, read_does(line, word)?));
            }
            // a clock meets the levels of its own row, wherever its column stands
            todo.sort_by_key(|(_, does)| matches!(does, Does::Pulses));
            for (name, does) in todo {
                self.does(name, &does).map_err(|e| at(line, e))?;
            }
            for (name, word) in names.1.iter().zip(wants) {
                self.wants(line, name, word, &read_wants(line, word)?)?;
            }
        }
        Ok(self)
    }

    fn does(&mut self, name: &str, what: &Does) -> Result<(), BenchError> {
        match *what {
            Does::Keeps => Ok(()),
            Does::Pulses => self.pulse(name).map(|_| ()),
            Does::Puts(level) => self.set(name, level).map(|_| ()),
            Does::Asserts => self.assert(name).map(|_| ()),
            Does::Releases => self.release(name).map(|_| ()),
            Does::Counts(number) => self.set_number(name, number).map(|_| ()),
        }
    }

    fn wants(&mut self, line: usize, name: &str, word: &str, what: &Wants) -> Result<(), BenchError> {
        let is_contact = self.contact(name).is_ok();
        let found = match *what {
            Wants::Anything => return Ok(()),
            Wants::Number(number) => {
                let seen = self.see_number(name).map_err(|e| at(line, e))?;
                if seen == Some(number) {
                    return Ok(());
                }
                seen.map_or_else(|| "not driven whole".to_owned(), |seen| seen.to_string())
            }
            Wants::Level(level) if !is_contact => {
                let held = self.holds(name).map_err(|e| at(line, e))?;
                if held == level {
                    return Ok(());
                }
                if held == Put::High { "high".to_owned() } else { "low".to_owned() }
            }
            Wants::Asserted(wanted) => {
                let seen = self.see(name).map_err(|e| at(line, e))?;
                if self.is_asserted(name).map_err(|e| at(line, e))? == wanted {
                    return Ok(());
                }
                seen.to_string()
            }
            Wants::Level(level) => {
                let seen = self.see(name).map_err(|e| at(line, e))?;
                let high = match seen {
                    Shown::High | Shown::PulledHigh => Some(Put::High),
                    Shown::Low | Shown::PulledLow => Some(Put::Low),
                    Shown::Floating => None,
                };
                if high == Some(level) {
                    return Ok(());
                }
                seen.to_string()
            }
            Wants::Floats => {
                let seen = self.see(name).map_err(|e| at(line, e))?;
                if seen == Shown::Floating {
                    return Ok(());
                }
                seen.to_string()
            }
        };
        Err(BenchError::Differs { line, name: name.to_owned(), expected: word.to_owned(), found })
    }
}

/// The same error with its line.
fn at(line: usize, error: BenchError) -> BenchError {
    BenchError::Table { line, why: error.to_string() }
}

fn split(line: usize, text: &str) -> Result<(&str, &str), BenchError> {
    text.split_once('|').ok_or_else(|| BenchError::Table {
        line,
        why: "a bar must stand between what is set and what is looked at: `reset clock | bell`".to_owned(),
    })
}

fn words(text: &str) -> Vec<&str> {
    text.split_whitespace().collect()
}

fn read_does(line: usize, word: &str) -> Result<Does, BenchError> {
    Ok(match word {
        "-" => Does::Keeps,
        "pulse" => Does::Pulses,
        "low" => Does::Puts(Put::Low),
        "high" => Does::Puts(Put::High),
        "asserted" => Does::Asserts,
        "released" => Does::Releases,
        _ => Does::Counts(number(line, word, "low, high, asserted, released, pulse, a number or -")?),
    })
}

fn read_wants(line: usize, word: &str) -> Result<Wants, BenchError> {
    Ok(match word {
        "-" => Wants::Anything,
        "low" => Wants::Level(Put::Low),
        "high" => Wants::Level(Put::High),
        "floating" => Wants::Floats,
        "asserted" => Wants::Asserted(true),
        "released" => Wants::Asserted(false),
        _ => Wants::Number(number(line, word, "low, high, floating, asserted, released, a number or -")?),
    })
}

/// A number as Rust writes it: `12`, `0x0c`, `0b1100`.
fn number(line: usize, word: &str, known: &str) -> Result<u64, BenchError> {
    let plain = word.replace('_', "");
    let read = match (plain.strip_prefix("0x"), plain.strip_prefix("0b")) {
        (Some(hex), _) => u64::from_str_radix(hex, 16),
        (None, Some(bits)) => u64::from_str_radix(bits, 2),
        (None, None) => plain.parse(),
    };
    read.map_err(|_| BenchError::Table { line, why: format!("`{word}` is not known here: write {known}") })
}
