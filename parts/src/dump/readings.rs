//! Readings of rows, from files.
use gluewright::circuit::Label;

use super::error::{DumpError, Fault};
use super::{Dump, Known, PulledTo};

/// How often an output read low and high in one row, with pull-ups and with pull-downs.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Seen {
    up: [u8; 2],
    down: [u8; 2],
}

impl Seen {
    fn add(&mut self, pulled_to: PulledTo, high: bool) {
        let [low_count, high_count] = match pulled_to {
            PulledTo::Supply => &mut self.up,
            PulledTo::Ground => &mut self.down,
        };
        let count = if high { high_count } else { low_count };
        *count = count.saturating_add(1);
    }

    pub(super) fn known(self) -> Result<Known, Fault> {
        let up = steady(self.up)?;
        let down = steady(self.down)?;
        Ok(match (up, down) {
            (Some(true), Some(false)) => Known::Floats,
            (Some(false), Some(true)) => return Err(Fault::Swapped),
            (Some(true), _) | (_, Some(true)) => Known::High,
            (Some(false), _) | (_, Some(false)) => Known::Low,
            (None, None) => Known::Nothing,
        })
    }

    /// With which resistors it was read, if they can't tell floating from driven.
    pub(super) fn untold(self) -> Option<PulledTo> {
        match (self.up, self.down) {
            ([0, high], [0, 0]) if high > 0 => Some(PulledTo::Supply),
            ([0, 0], [low, 0]) if low > 0 => Some(PulledTo::Ground),
            _ => None,
        }
    }

    pub(super) fn only_once(self) -> bool {
        let count = |[low, high]: [u8; 2]| low.saturating_add(high);
        count(self.up) == 1 || count(self.down) == 1
    }
}

fn steady([low, high]: [u8; 2]) -> Result<Option<bool>, Fault> {
    match (low, high) {
        (0, 0) => Ok(None),
        (_, 0) => Ok(Some(false)),
        (0, _) => Ok(Some(true)),
        _ => Err(Fault::Unsteady),
    }
}

impl Dump {
    /// Adds a reading of all rows from a binary file: the rows one after the other, each with its outputs in as many bytes
    /// as they need, the first output in the lowest bit of the first byte. `file` is its name for messages.
    ///
    /// # Errors
    /// If the file has another length.
    pub fn with_binary(mut self, pulled_to: PulledTo, file: &str, content: &[u8]) -> Result<Self, DumpError> {
        let (rows, bytes) = (self.rows(), self.outputs.len().div_ceil(8));
        let expected = rows * bytes;
        if content.len() != expected {
            return Err(DumpError::Length { file: file.to_owned(), found: content.len(), rows, bytes, expected });
        }
        for (seen, row) in self.seen.chunks_mut(self.outputs.len()).zip(content.chunks(bytes)) {
            for (bit, seen) in seen.iter_mut().enumerate() {
                seen.add(pulled_to, row.get(bit / 8).is_some_and(|byte| byte >> (bit % 8) & 1 == 1));
            }
        }
        Ok(self)
    }

    /// Adds readings from a CSV file: a column for each pin, called by its label, with `H` or `1`, `L` or `0`; and a column
    /// `pull` with `up` or `down`. Rows may be missing and come in any order; an output that was not read is left empty.
    /// `file` is its name for messages.
    ///
    /// # Errors
    /// If a column is missing or unknown, or a cell is no level.
    pub fn with_csv(mut self, file: &str, content: &str) -> Result<Self, DumpError> {
        let at = |line, what: String| DumpError::Csv { file: file.to_owned(), line, what };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(content.trim_start_matches('\u{feff}').as_bytes());
        let failed = |e: &csv::Error| {
            let line = e.position().map_or(1, csv::Position::line);
            at(line, format!("{e}: has every row a cell for each column?"))
        };
        let header = reader.headers().map_err(|e| failed(&e))?.clone();
        let columns = self.columns(&header).map_err(|what| at(1, what))?;
        for record in reader.records() {
            let record = record.map_err(|e| failed(&e))?;
            let line = record.position().map_or(0, csv::Position::line);
            self.add_record(&record, &columns).map_err(|what| at(line, what))?;
        }
        Ok(self)
    }

    fn columns(&self, header: &csv::StringRecord) -> Result<Columns, String> {
        let find = |name: &str| header.iter().position(|column| column.eq_ignore_ascii_case(name));
        let pin = |label: &Label| {
            let missing =
                || format!("there is no column `{label}`: give each pin of the dump one, and `pull` beside them");
            find(label.as_str()).ok_or_else(missing)
        };
        let columns = Columns {
            pull: find("pull").ok_or("there is no column `pull`: it says `up` or `down`, as the resistors went")?,
            inputs: self.inputs.iter().map(pin).collect::<Result<_, _>>()?,
            outputs: self.outputs.iter().map(pin).collect::<Result<_, _>>()?,
        };
        let known = |i: &usize| columns.pull == *i || columns.inputs.contains(i) || columns.outputs.contains(i);
        match (0..header.len()).find(|i| !known(i)).and_then(|i| header.get(i)) {
            Some(unknown) => Err(format!("column `{unknown}` is no pin of the dump, or stands twice")),
            None => Ok(columns),
        }
    }

    fn add_record(&mut self, record: &csv::StringRecord, columns: &Columns) -> Result<(), String> {
        let cell = |column: usize| record.get(column).unwrap_or_default();
        let pull = cell(columns.pull);
        let pulled_to =
            PulledTo::named(pull).ok_or_else(|| format!("`{pull}` in column `pull`: write `up` or `down`"))?;
        let mut row = 0;
        for (bit, &column) in columns.inputs.iter().enumerate() {
            let high = level(cell(column))?.ok_or("an input has no level: it had one when the row was read")?;
            row |= usize::from(high) << bit;
        }
        let width = self.outputs.len();
        for (i, &column) in columns.outputs.iter().enumerate() {
            if let (Some(high), Some(seen)) = (level(cell(column))?, self.seen.get_mut(row * width + i)) {
                seen.add(pulled_to, high);
            }
        }
        Ok(())
    }
}

struct Columns {
    pull: usize,
    inputs: Vec<usize>,
    outputs: Vec<usize>,
}

fn level(cell: &str) -> Result<Option<bool>, String> {
    match cell {
        "" => Ok(None),
        "1" | "H" | "h" => Ok(Some(true)),
        "0" | "L" | "l" => Ok(Some(false)),
        other => {
            Err(format!("`{other}` is no level: write H or 1, L or 0, or nothing for an output that was not read"))
        }
    }
}
