//! A drawer from the CSV file that a spreadsheet writes.
use std::sync::Arc;

use super::{Drawer, DrawerError, Entry, Problem, ProblemKind};
use crate::device::{self, Device};
use gluewright_kernel::circuit::Origin;
use gluewright_kernel::nearest::{did_you_mean, nearest_within};

/// The most rows that a drawer may have.
const MOST_ROWS: usize = 10_000;

const COLUMNS: [&str; 6] = ["type", "maker", "grade", "package", "count", "device"];

/// Reads everything; what is wrong is collected.
pub(super) fn read(file: &str, bytes: &[u8]) -> Result<Drawer, DrawerError> {
    let name: Arc<str> = file.into();
    let mut problems = Vec::new();
    let entries = match std::str::from_utf8(bytes) {
        Ok(text) => rows(&name, text.strip_prefix('\u{feff}').unwrap_or(text), &mut problems),
        Err(error) => {
            let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = 1 + good.iter().filter(|&&b| b == b'\n').count() as u32;
            problems.push(problem(&name, line, "type", ProblemKind::NotText, "save the sheet as CSV in UTF-8"));
            Vec::new()
        }
    };
    // a drawer holds more than what has a description here: the rest is left out, as long as something is left
    let strange = |p: &Problem| matches!(p.kind, ProblemKind::UnknownType(_));
    if problems.iter().all(strange) && !entries.is_empty() {
        Ok(Drawer { name: file.to_owned(), entries, unknown: problems })
    } else {
        Err(DrawerError::Wrong(problems))
    }
}

fn problem(file: &Arc<str>, line: u32, field: &'static str, kind: ProblemKind, mend: impl Into<String>) -> Problem {
    Problem { origin: Origin::line(file, line), field, kind, mend: mend.into() }
}

fn rows(file: &Arc<str>, text: &str, problems: &mut Vec<Problem>) -> Vec<Entry> {
    let mut entries = Vec::new();
    let mut columns: Option<([Option<usize>; COLUMNS.len()], u8)> = None;
    for (line, row) in (1u32..).zip(text.lines()) {
        if row.trim().is_empty() || row.trim_start().starts_with('#') {
            continue;
        }
        // bad rows count too: nobody reads more complaints than that
        if entries.len() + problems.len() >= MOST_ROWS {
            let mend = "a drawer has one row for each kind of device; is this the right file?";
            problems.push(problem(file, line, "type", ProblemKind::TooMany(MOST_ROWS), mend));
            return entries;
        }
        if row.matches('"').count() % 2 == 1 {
            problems.push(problem(file, line, "type", ProblemKind::Quotation, "close it, or take it out"));
            continue;
        }
        let parted = columns.as_ref().map_or_else(|| delimiter(row), |(_, by)| *by);
        let fields = fields(row, parted);
        let Some((at, _)) = &columns else {
            match header(file, line, &fields, problems) {
                Some(at) => columns = Some((at, parted)),
                None => return entries,
            }
            continue;
        };
        if fields.iter().all(String::is_empty) {
            continue;
        }
        let field = |k: usize| at.get(k).copied().flatten().and_then(|at| fields.get(at)).map_or("", String::as_str);
        entries.extend(entry(file, line, &field, problems));
    }
    if entries.is_empty() && problems.is_empty() {
        let mend = "start it with the header `maker,type,grade,package,count`, then one row for each kind of device";
        problems.push(problem(file, 1, "type", ProblemKind::NoRows, mend));
    }
    entries
}

/// The fields of one line; a drawer has no fields of several lines.
fn fields(row: &str, delimiter: u8) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(delimiter)
        .from_reader(row.as_bytes());
    let record = reader.records().next().and_then(Result::ok).unwrap_or_default();
    record.iter().map(str::to_owned).collect()
}

fn delimiter(header: &str) -> u8 {
    let count = |of: u8| header.bytes().filter(|&b| b == of).count();
    [b';', b'\t'].into_iter().fold(b',', |best, d| if count(d) > count(best) { d } else { best })
}

fn header(
    file: &Arc<str>,
    line: u32,
    fields: &[String],
    problems: &mut Vec<Problem>,
) -> Option<[Option<usize>; COLUMNS.len()]> {
    let mut at = [None; COLUMNS.len()];
    for (name, place) in COLUMNS.into_iter().zip(&mut at) {
        let mut found = fields.iter().enumerate().filter(|(_, f)| f.eq_ignore_ascii_case(name)).map(|(i, _)| i);
        *place = found.next();
        if found.next().is_some() {
            let mend = "name each column once";
            problems.push(problem(file, line, name, ProblemKind::ColumnTwice(name), mend));
            return None;
        }
    }
    if at.first().copied().flatten().is_none() {
        let mend = "the first row names the columns: `maker,type,grade,package,count`, in any order";
        problems.push(problem(file, line, "type", ProblemKind::NoColumn("type"), mend));
        return None;
    }
    Some(at)
}

fn entry<'f>(
    file: &Arc<str>,
    line: u32,
    field: &impl Fn(usize) -> &'f str,
    problems: &mut Vec<Problem>,
) -> Option<Entry> {
    let [full_type, maker, grade, package, count, generic] = [0, 1, 2, 3, 4, 5].map(field);
    let mut wrong = |name, kind, mend: String| problems.push(problem(file, line, name, kind, mend));
    let count = match count {
        "" => None,
        text => match text.parse::<u32>() {
            Ok(number) => Some(number),
            Err(_) => {
                let mend = "write how many there are in digits, or nothing if nobody counted";
                wrong("count", ProblemKind::Count(text.to_owned()), mend.to_owned());
                None
            }
        },
    };
    if full_type.is_empty() {
        wrong("type", ProblemKind::Missing, "write the type as it is printed on the package".to_owned());
        return None;
    }
    let device = match generic {
        "" => printed(full_type),
        name => device::find(name),
    };
    let Some(device) = device else {
        let (name, text) = if generic.is_empty() { ("type", full_type) } else { ("device", generic) };
        wrong(name, ProblemKind::UnknownType(text.to_owned()), suggestion(text));
        return None;
    };
    let packages = || device.packages.iter().map(|p| p.name);
    let found = match package {
        "" => packages().next(),
        text => packages().find(|name| same_package(name, text)),
    };
    if found.is_none() {
        let kind = ProblemKind::UnknownPackage { package: package.to_owned(), device: device.name };
        wrong("package", kind, format!("write one of {}", packages().collect::<Vec<_>>().join(", ")));
    }
    let grade = match grade {
        "" => printed_grade(full_type),
        text if text.starts_with(|c: char| c.is_ascii_digit()) => format!("-{text}"),
        text => text.to_owned(),
    };
    let (maker, full_type) = (maker.to_owned(), full_type.to_owned());
    Some(Entry { maker, full_type, device, grade, package: found?, count, origin: Origin::line(file, line) })
}

/// The device whose generic type number a printed type holds; the longest, if there are several.
pub(super) fn printed(full_type: &str) -> Option<&'static Device> {
    let printed = full_type.to_uppercase();
    let holds = |name: &str| {
        let digit = |c: char| c.is_ascii_digit();
        printed.match_indices(name).any(|(at, _)| {
            let (before, after) = (printed.get(..at).unwrap_or(""), printed.get(at + name.len()..).unwrap_or(""));
            !before.ends_with(digit) && !after.starts_with(digit)
        })
    };
    device::all().iter().filter(|d| holds(&d.name.to_uppercase())).max_by_key(|d| d.name.len())
}

/// `DIP-24` is also written `DIP24` and `dip 24`.
fn same_package(name: &str, text: &str) -> bool {
    let bare = |s: &str| s.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_uppercase();
    bare(name) == bare(text)
}

/// The grade in a printed type: `-15` of `…22V10-15P`.
fn printed_grade(full_type: &str) -> String {
    let Some((_, after)) = full_type.split_once('-') else { return String::new() };
    let digits: String = after.chars().take_while(char::is_ascii_digit).collect();
    if digits.is_empty() { String::new() } else { format!("-{digits}") }
}

/// The types that come near to what was printed, else all.
fn suggestion(text: &str) -> String {
    let all = || device::all().iter().map(|d| d.name);
    match did_you_mean(&nearest_within(text, all(), 2)) {
        Some(question) => format!("{question} Else write the generic type number in a column `device` beside `type`"),
        None => {
            let known = all().collect::<Vec<_>>().join(", ");
            format!("known are {known}; the generic type number may stand in a column `device` beside `type`")
        }
    }
}
