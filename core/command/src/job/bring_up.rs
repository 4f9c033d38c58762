//! The form for what is measured while the replacement is brought up: one row for each reading, with what it may be, and empty
//! fields for what it is.
use gluewright_analysis::loading::Drives;
use gluewright_kernel::circuit::Rail;

use super::made::Made;
use super::{JobError, contents};

/// The form's name in the folder.
pub(super) const FORM: &str = "bring_up.csv";

/// The columns of the form; the last three are filled in by hand.
const HEAD: [&str; 9] = ["row", "stage", "measure", "at", "at_least", "at_most", "unit", "measured", "remark"];

/// One reading.
#[derive(Clone, Debug, PartialEq)]
struct Reading {
    stage: &'static str,
    measure: String,
    at: String,
    at_least: Option<f64>,
    at_most: Option<f64>,
    unit: &'static str,
}

const COLD: &str = "the adapter alone, cold";
const ALONE: &str = "the adapter alone, on a bench supply";
const EMPTY: &str = "in the board, with empty sockets";
const WHOLE: &str = "in the board, with the device";

/// The supply of TTL and of all devices here, in volts: 5 V within 5 % (the commercial range of their sheets).
const SUPPLY: [f64; 2] = [4.75, 5.25];
/// What an output of TTL must stay below while it is low, and above while it is high, in volts: the V_OL and V_OH of the sheets
/// of the 74LS parts and of the devices.
const OUTPUT: [f64; 2] = [0.5, 2.4];

/// What a meter may show below ground at a contact that nothing drives below it, in volts (common practice, no source).
const BELOW_GROUND: f64 = 0.1;

fn readings(made: &Made) -> Vec<Reading> {
    let adapter = contents::adapter(made);
    let pins = |rail: Rail| -> String {
        let all = adapter.supply_pins(rail).into_iter().map(|(reference, pin)| format!("{reference} pin {pin}"));
        all.collect::<Vec<_>>().join(", ")
    };
    let between = format!("{} against {}", pins(Rail::Vcc), pins(Rail::Gnd));
    let reading = |stage, measure: &str, at: &str, [at_least, at_most]: [Option<f64>; 2], unit| Reading {
        stage,
        measure: measure.to_owned(),
        at: at.to_owned(),
        at_least,
        at_most,
        unit,
    };
    let supply = SUPPLY.map(Some);
    let after = &made.currents.supply_after;
    // by the grade that is safe, or the only one: which other part is burned nobody knows yet
    let is_decided = made.times.chosen().is_some() || made.devices.iter().all(|d| d.device.grades.len() <= 1);
    let draws = [None, Some(after.ma).filter(|_| after.missing.is_empty() && is_decided)];
    let mut all = vec![
        reading(COLD, "resistance, one way round", &between, [None; 2], "Ω"),
        reading(COLD, "resistance, the other way round", &between, [None; 2], "Ω"),
        reading(ALONE, "supply, without the device", &between, supply, "V"),
        reading(ALONE, "current, with the device", "bench supply", draws, "mA"),
    ];
    for contact in &made.currents.contacts {
        let drives = contact.replacement.drives;
        if drives != Drives::Never {
            let at = contact.at.to_string();
            let is_brought =
                |high: bool| !made.probing.unshown.iter().any(|(l, h)| *h == high && l.as_str() == contact.at.label);
            if is_brought(false) {
                all.push(reading(ALONE, "level, driven low", &at, [None, Some(OUTPUT[0])], "V"));
            }
            if drives != Drives::LowOnly && is_brought(true) {
                all.push(reading(ALONE, "level, driven high", &at, [Some(OUTPUT[1]), None], "V"));
            }
        }
    }
    all.extend([
        reading(EMPTY, "supply", &between, supply, "V"),
        reading(EMPTY, "current of the board", "its supply", [None; 2], "mA"),
        reading(EMPTY, "highest level", "all contacts", [None, Some(SUPPLY[1])], "V"),
        reading(EMPTY, "lowest level", "all contacts", [Some(-BELOW_GROUND), None], "V"),
        reading(WHOLE, "current of the board", "its supply", [None; 2], "mA"),
        reading(WHOLE, "supply at the device", &between, supply, "V"),
    ]);
    all
}

fn limit(limit: Option<f64>) -> String {
    limit.map_or_else(String::new, |l| l.to_string())
}

/// The form, empty.
pub(super) fn form(made: &Made) -> Result<Vec<u8>, csv::Error> {
    let mut to = csv::Writer::from_writer(Vec::new());
    to.write_record(HEAD)?;
    for (row, r) in (1..).zip(readings(made)) {
        let fields =
            [row.to_string(), r.stage.into(), r.measure, r.at, limit(r.at_least), limit(r.at_most), r.unit.into()];
        to.write_record(fields.iter().map(String::as_str).chain(["", ""]))?;
    }
    to.into_inner().map_err(|e| csv::Error::from(e.into_error()))
}

/// What a filled form says.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub(super) struct Measured {
    /// Rows that have a reading.
    pub(super) filled: usize,
    /// Rows of the form.
    pub(super) rows: usize,
    /// Readings that are not what they may be, in words.
    pub(super) outside: Vec<String>,
}

/// Reads a filled form: each row must be one of this job's, as it was written but for the last two fields.
///
/// # Errors
/// The first row that is none of the form's, or whose reading is no number, with its line.
pub(super) fn measured(name: &str, filled: &[u8], made: &Made) -> Result<Measured, JobError> {
    let wrong = |line: u64, what: String| JobError::Form { file: name.to_owned(), line, what };
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(filled);
    let head = reader.headers().map_err(|e| wrong(1, e.to_string()))?;
    if !head.iter().eq(HEAD) {
        return Err(wrong(1, format!("the head is not `{}`", HEAD.join(","))));
    }
    let readings = readings(made);
    let mut told = Measured { rows: readings.len(), ..Measured::default() };
    let mut next = readings.iter().zip(1_usize..);
    for record in reader.records() {
        let record = record.map_err(|e| wrong(e.position().map_or(0, csv::Position::line), e.to_string()))?;
        let line = record.position().map_or(0, csv::Position::line);
        let field = |at: usize| record.get(at).unwrap_or_default();
        let Some((r, row)) = next.next() else {
            return Err(wrong(line, "the form of this job has no such row".to_owned()));
        };
        let row = row.to_string();
        let limits = [limit(r.at_least), limit(r.at_most)];
        let asked = [row.as_str(), r.stage, &r.measure, &r.at, &limits[0], &limits[1], r.unit];
        if !asked.into_iter().eq((0..7).map(field)) {
            return Err(wrong(
                line,
                format!("this is not row {row} of the form that the job wrote: `{}`", asked.join(",")),
            ));
        }
        if field(7).is_empty() {
            continue;
        }
        let value: f64 = field(7).parse().ok().filter(|value: &f64| value.is_finite()).ok_or_else(|| {
            wrong(line, format!("`{}` is no number: write the reading in {} alone", field(7), r.unit))
        })?;
        told.filled += 1;
        let (low, high) = (r.at_least.is_some_and(|l| value < l), r.at_most.is_some_and(|l| value > l));
        if low || high {
            let bound = if low { format!("at least {}", limits[0]) } else { format!("at most {}", limits[1]) };
            told.outside.push(format!("row {row}, {} at {}: {value} {}, {bound} expected", r.measure, r.at, r.unit));
        }
    }
    match next.next() {
        Some((_, row)) => {
            Err(wrong(0, format!("row {row} of the form is missing: leave rows that were not measured empty")))
        }
        None => Ok(told),
    }
}
