//! Rows of a trace from a CSV file as a spreadsheet writes it.
use std::borrow::Cow;
use std::sync::Arc;

use super::finding::{Finding, FindingKind, Findings, shown};
use crate::circuit::Origin;

/// The most rows that a trace may have: a thousand packages with a hundred pins each.
pub(super) const MOST_ROWS: usize = 100_000;

/// One row of a trace, as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Row {
    pub(super) reference: String,
    pub(super) part: String,
    pub(super) pin: String,
    pub(super) net: String,
    pub(super) origin: Origin,
}

const COLUMNS: [&str; 4] = ["ref", "part", "pin", "net"];

/// What people and programs call the columns (common practice, no source), the better names first: a sheet may have `part`
/// and `value` both.
const NAMES: [&[&str]; 4] = [
    &["ref", "reference", "refdes", "ref des", "reference designator", "designator", "component"],
    &["part", "type", "part type", "device", "value", "part number", "comment"],
    &["pin", "pin number", "pin no", "pin no.", "pad", "terminal", "pin name"],
    &["net", "net name", "netname", "signal", "signal name", "node"],
];

/// Reads all rows that can be read; what can't goes to `findings`.
pub(super) fn read(file: &str, bytes: &[u8], findings: &mut Findings) -> Vec<Row> {
    let file: Arc<str> = file.into();
    let Some(text) = as_text(&file, bytes, findings) else { return Vec::new() };
    let text: &str = &text;
    let mut lines = Lines { text, at: 0, line: 1 };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(delimiter(text))
        .from_reader(text.as_bytes());
    let mut columns = None;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let at = Origin::line(&file, lines.line);
                let message = format!("the row after this one can't be read: {error}");
                findings.push(Finding::error(FindingKind::Row, &at, message, "save the sheet as CSV again"));
                break;
            }
        };
        let origin = Origin::line(&file, lines.of(record.position()));
        if record.iter().all(str::is_empty) || record.get(0).is_some_and(|first| first.starts_with('#')) {
            continue;
        }
        if let Some(open) = record.iter().find(|field| field.contains('\n')) {
            let message = format!("a quotation mark is opened and not closed in this row: {}", shown(open));
            findings.push(Finding::error(FindingKind::Row, &origin, message, "close it, or take it out"));
            continue;
        }
        let Some(columns) = &columns else {
            match header(&record, &origin, findings) {
                Some(found) => columns = Some(found),
                None => return Vec::new(),
            }
            continue;
        };
        if rows.len() == MOST_ROWS {
            let message = format!("more than {MOST_ROWS} rows");
            let mend = "a trace has one row for each pin of a card; is this the right file?";
            findings.push(Finding::error(FindingKind::TooMany, &origin, message, mend));
            return Vec::new();
        }
        if let Some(row) = row(&record, columns, origin, findings) {
            rows.push(row);
        }
    }
    if columns.is_none() && !findings.has_errors() {
        let message = "the file has no rows".to_owned();
        let mend = "start it with the header `ref,part,pin,net`, then one row for each pin";
        findings.push(Finding::error(FindingKind::Header, &Origin::line(&file, 1), message, mend));
    }
    rows
}

/// The file's text with line feeds as line ends.
fn as_text<'a>(file: &Arc<str>, bytes: &'a [u8], findings: &mut Findings) -> Option<Cow<'a, str>> {
    let mend = "save the sheet as CSV in UTF-8";
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let message = "the file is text in UTF-16".to_owned();
        findings.push(Finding::error(FindingKind::NotText, &Origin::line(file, 1), message, mend));
        return None;
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => {
            let text = text.strip_prefix('\u{feff}').unwrap_or(text);
            Some(if text.contains('\r') { text.replace("\r\n", "\n").replace('\r', "\n").into() } else { text.into() })
        }
        Err(error) => {
            let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = 1 + good.iter().filter(|&&b| b == b'\n').count();
            let origin = Origin::line(file, u32::try_from(line).unwrap_or(u32::MAX));
            let message = "this line holds a character that is not in UTF-8".to_owned();
            findings.push(Finding::error(FindingKind::NotText, &origin, message, mend));
            None
        }
    }
}

/// The character that parts the columns of the header: comma, or semicolon or tab as some spreadsheets write them.
pub(super) fn delimiter(text: &str) -> u8 {
    let header = text.lines().find(|line| !line.trim().is_empty() && !line.starts_with('#'));
    let count = |of: u8| header.map_or(0, |line| line.bytes().filter(|&b| b == of).count());
    [b';', b'\t'].into_iter().fold(b',', |best, d| if count(d) > count(best) { d } else { best })
}

/// Where each of [`COLUMNS`] stands.
fn header(record: &csv::StringRecord, origin: &Origin, findings: &mut Findings) -> Option<[usize; 4]> {
    let mut at = [0; 4];
    let mut wrong = Vec::new();
    for ((name, names), place) in COLUMNS.iter().zip(NAMES).zip(&mut at) {
        match place_of(record, names) {
            Ok(Some(only)) => *place = only,
            Ok(None) => wrong.push(format!("has no column `{name}`")),
            Err(twice) => wrong.push(format!("has the column `{twice}` twice")),
        }
    }
    if wrong.is_empty() {
        return Some(at);
    }
    let message = format!("the header {}", wrong.join(" and "));
    let mend =
        "the first row names the columns: `ref,part,pin,net` or other usual names, in any order, others beside them";
    findings.push(Finding::error(FindingKind::Header, origin, message, mend));
    None
}

/// Where the column with the first of these names that a header has stands; the name, if two columns have it.
pub(super) fn place_of<'n>(record: &csv::StringRecord, names: &[&'n str]) -> Result<Option<usize>, &'n str> {
    for &name in names {
        let is_it = |field: &str| bare(field).replace('_', " ").eq_ignore_ascii_case(name);
        let mut found = record.iter().enumerate().filter(|(_, field)| is_it(field)).map(|(i, _)| i);
        match (found.next(), found.next()) {
            (Some(_), Some(_)) => return Err(name),
            (Some(only), None) => return Ok(Some(only)),
            (None, _) => {}
        }
    }
    Ok(None)
}

fn row(record: &csv::StringRecord, columns: &[usize; 4], origin: Origin, findings: &mut Findings) -> Option<Row> {
    let mut missing = None;
    let mut field = |k: usize| {
        let value = columns.get(k).and_then(|&at| record.get(at));
        if value.is_none() {
            missing = missing.or(COLUMNS.get(k));
        }
        value.map(bare).unwrap_or_default().to_owned()
    };
    let (reference, part, pin, net) = (field(0), field(1), field(2), field(3));
    if let Some(name) = missing {
        let message = format!("the row ends before the column `{name}`");
        let mend = "give it all four: `ref,part,pin,net`; the net of a pin that is joined to nothing is `open`";
        findings.push(Finding::error(FindingKind::Row, &origin, message, mend));
        return None;
    }
    Some(Row { reference, part, pin, net, origin })
}

/// Line numbers as an editor counts them, for rising positions in a text.
struct Lines<'a> {
    text: &'a str,
    at: usize,
    line: u32,
}

impl Lines<'_> {
    /// The line of the record that starts at this position or after the empty and comment lines that follow it.
    fn of(&mut self, position: Option<&csv::Position>) -> u32 {
        let start = position.and_then(|p| usize::try_from(p.byte()).ok()).unwrap_or(self.at);
        while let Some(rest) = self.text.as_bytes().get(self.at..).filter(|rest| !rest.is_empty()) {
            if self.at >= start && !matches!(rest.first(), Some(b'\n' | b'#')) {
                break;
            }
            let length = rest.iter().position(|&b| b == b'\n').unwrap_or(rest.len() - 1) + 1;
            self.at += length;
            self.line = self.line.saturating_add(1);
        }
        self.line
    }
}

/// A field without the quotation marks that remain when spaces stand before them.
fn bare(field: &str) -> &str {
    field.strip_prefix('"').and_then(|f| f.strip_suffix('"')).unwrap_or(field).trim()
}
