//! Captures as tables: CSV with a column of times and one column a channel.
use std::io::Read;

use super::bounded::Bounded;
use super::channels::Wired;
use super::error::{CaptureError, CaptureErrorKind, shown};
use super::record::{Capture, Sample};

/// More columns than this are no capture.
const MOST_COLUMNS: usize = 4096;

/// A table whose head is read.
pub(super) struct Table<R> {
    file: String,
    reader: csv::Reader<Bounded<R>>,
    /// The names of the columns after the first.
    names: Vec<String>,
    /// Picoseconds in the unit of the times.
    unit: f64,
}

impl<R: Read> Table<R> {
    /// Reads the head: the first column is the time, with its unit: `time (ns)`, `Time [s]`.
    pub(super) fn open(file: &str, reader: R) -> Result<Table<R>, CaptureError> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(true)
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(Bounded::new(reader));
        let head = reader.headers().cloned().map_err(|e| format_error(file, &e))?;
        let wrong = |message: String, mend: &str| {
            Err(CaptureError::new(file, Some(1), CaptureErrorKind::Format, message, mend))
        };
        if head.len() > MOST_COLUMNS {
            return wrong(format!("more than {MOST_COLUMNS} columns"), "is this the right file?");
        }
        let first = head.get(0).unwrap_or_default().trim_start_matches('\u{feff}');
        let Some(unit) = unit(first) else {
            return wrong(
                format!("the first column, {}, names no unit of time", shown(first)),
                "write its head as `time (s)`, `time (us)`, `time (ns)` or `time (ps)`",
            );
        };
        let names = head.iter().skip(1).map(str::to_owned).collect();
        Ok(Table { file: file.to_owned(), reader, names, unit })
    }

    pub(super) fn channels(&self) -> Vec<String> {
        self.names.clone()
    }

    /// The names of each channel: a table has one each.
    pub(super) fn names(&self) -> Vec<Vec<String>> {
        self.names.iter().map(|name| vec![name.clone()]).collect()
    }

    pub(super) fn read(mut self, wired: &Wired, mut progress: impl FnMut(u64)) -> Result<Capture, CaptureError> {
        let mut capture = Capture::new(&self.file, wired.wires.len());
        capture.zero = 1 << 63;
        let wires: Vec<Option<u16>> =
            self.names.iter().map(|n| wired.by_channel.get(&n.to_lowercase()).copied()).collect();
        let file = self.file.clone();
        let mut record = csv::StringRecord::new();
        loop {
            self.reader.get_mut().renew();
            match self.reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => return Ok(capture),
                Err(e) => return Err(format_error(&file, &e)),
            }
            let line = record.position().map_or(0, csv::Position::line);
            let wrong =
                |kind, message: String, mend: &str| Err(CaptureError::new(&file, Some(line), kind, message, mend));
            let text = record.get(0).unwrap_or_default();
            let time = text.parse::<f64>().ok().map(|t| t * self.unit).filter(|t| t.is_finite() && t.abs() < 9e18);
            let Some(time) = time else {
                return wrong(CaptureErrorKind::Time, format!("{} is no time", shown(text)), "write a number");
            };
            // analysers count from the trigger: what was before it is negative; only differences matter
            let time = (time.round() as i64).wrapping_sub(i64::MIN).cast_unsigned();
            progress(line);
            for (wire, field) in wires.iter().zip(record.iter().skip(1)) {
                let Some(wire) = wire else { continue };
                let mut chars = field.chars();
                let value = match (chars.next(), chars.next()) {
                    (None, _) => continue,
                    (Some(c), None) => Sample::read(c),
                    _ => None,
                };
                let Some(value) = value else {
                    return wrong(CaptureErrorKind::Format, format!("{} is no level", shown(field)), "write 0 or 1");
                };
                capture.push(time, *wire, value, line)?;
            }
        }
    }
}

fn format_error(file: &str, e: &csv::Error) -> CaptureError {
    let line = e.position().map(csv::Position::line);
    let (kind, message, mend) = match e.kind() {
        csv::ErrorKind::Utf8 { .. } => {
            (CaptureErrorKind::Format, "this is no UTF-8".to_owned(), "save it as CSV in UTF-8")
        }
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => (
            CaptureErrorKind::Format,
            format!("{len} fields where the head has {expected_len}"),
            "was it cut short? Save the capture anew",
        ),
        _ => (CaptureErrorKind::Unreadable, e.to_string(), "see that the file can be read"),
    };
    CaptureError::new(file, line, kind, message, mend)
}

/// Picoseconds in the unit that a head names in brackets, or at its end after a space.
fn unit(head: &str) -> Option<f64> {
    let text = head.trim_end_matches([')', ']']);
    let unit = text.rsplit(['(', '[', ' ', '_']).next()?.trim().to_lowercase();
    match unit.as_str() {
        "s" | "sec" | "seconds" => Some(1e12),
        "ms" => Some(1e9),
        "us" | "µs" | "μs" => Some(1e6),
        "ns" => Some(1e3),
        "ps" => Some(1.0),
        _ => None,
    }
}
