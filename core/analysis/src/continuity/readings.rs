//! Readings of a meter, in the order in which they were made.
use std::fmt;

use gluewright_kernel::board::written::{PartKind, delimiter, is_net_name, pin_label, resistance};
use gluewright_kernel::circuit::Label;
use serde::{Serialize, Serializer};

use super::error::{At, ContinuityError, ContinuityErrorKind, shown};
use super::parts::{Parts, is_reference};
use super::table::{Columns, records, text};

/// More readings than this are not made in two days.
const MOST_READINGS: usize = 20_000;

/// Up to here a reading in ohms is a joint: leads and a long trace have less than this, the smallest series resistors of
/// the time have more (common practice, no source).
pub const JOINED_UP_TO_OHMS: f64 = 5.0;

/// What the socket's contacts are called where no list of parts says it.
const UNLISTED_CONTACTS: &str = "J1";

/// Something that a probe can touch.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Point {
    /// A pin of a part, or a contact.
    Pin {
        /// The part's reference.
        reference: String,
        /// The pin.
        pin: Label,
    },
    /// Anything else with a name: a rail, a test point, a net.
    Name(String),
}

impl fmt::Display for Point {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Point::Pin { reference, pin } => write!(f, "{reference}.{pin}"),
            Point::Name(name) => f.write_str(name),
        }
    }
}

impl Serialize for Point {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// What the meter was asked.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum To {
    /// From one point to this one.
    Point(Point),
    /// From one point to everything else on the board: the other probe was drawn over all of it.
    Others,
}

impl fmt::Display for To {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            To::Point(point) => point.fmt(f),
            To::Others => f.write_str("others"),
        }
    }
}

impl Serialize for To {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// What the meter showed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shows {
    /// Nothing but a wire lies between.
    Joined,
    /// Nothing lies between.
    Open,
    /// The resistance between the two, in ohms.
    Ohms(f64),
    /// The voltage drop, in volts: a junction of a diode or of a chip.
    Drop(f64),
}

/// One reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Its line in the file.
    pub line: u64,
    /// The point at which the one probe was held.
    pub from: Point,
    /// Where the other one was.
    pub to: To,
    /// What the meter showed.
    pub shows: Shows,
}

/// Readings in the order in which they were made, with the parts of the board.
#[derive(Clone, Debug)]
pub struct Readings {
    pub(super) file: String,
    pub(super) all: Vec<Reading>,
    pub(super) parts: Parts,
}

impl Readings {
    /// Reads `from,to,ohms` in CSV. A pin is written `U3.5`, a contact by its label or `J1.5`; every other word is the name of
    /// what the probe touched. `ohms` is `open`, a resistance (`0.3`, `4k7`), or a diode's drop (`0.62V`, `620mV`). A row
    /// `U3.5,others,open` says that one probe was held on U3.5, the other was drawn over the whole board, and nothing was
    /// found but what the rows before it join to U3.5.
    ///
    /// # Errors
    /// Every row that can't be read: the first, with the others in it.
    pub fn from_csv(file: &str, content: impl AsRef<[u8]>, parts: Parts) -> Result<Readings, ContinuityError> {
        let mut readings = Readings { file: file.to_owned(), all: Vec::new(), parts };
        let text = text(file, content.as_ref())?;
        let names: [&[&str]; 3] = [&["from"], &["to"], &["ohms", "reading", "value"]];
        let mut columns: Option<Columns<3>> = None;
        let listed = !readings.parts.is_empty();
        let mut wrong: Vec<ContinuityError> = Vec::new();
        for record in records(file, text, delimiter(text)) {
            let (line, record) = record?;
            let at = At { file, line };
            let Some(columns) = &columns else {
                columns = Some(Columns::of(at, &record, names, 3, "from,to,ohms")?);
                continue;
            };
            if readings.all.len() >= MOST_READINGS {
                let message = format!("more than {MOST_READINGS} readings");
                return Err(at.wrong(ContinuityErrorKind::TooMany, message, "is this the right file?"));
            }
            match reading(at, columns.fields(&record), &readings.parts, listed) {
                Ok(reading) => readings.add(reading, listed),
                Err(e) => wrong.push(e),
            }
        }
        if columns.is_none() {
            let at = At { file, line: 1 };
            let mend = "start it with the header `from,to,ohms`";
            return Err(at.wrong(ContinuityErrorKind::Header, "the file has no rows", mend));
        }
        let mut wrong = wrong.into_iter();
        match wrong.next() {
            Some(first) => Err(ContinuityError { others: wrong.collect(), ..first }),
            None => Ok(readings),
        }
    }

    fn add(&mut self, reading: Reading, listed: bool) {
        let to = match &reading.to {
            To::Point(point) => Some(point),
            To::Others => None,
        };
        for point in std::iter::once(&reading.from).chain(to) {
            if let Point::Pin { reference, pin } = point {
                self.parts.take(reference, pin, !listed && reference == UNLISTED_CONTACTS);
            }
        }
        self.all.push(reading);
    }

    /// All of them.
    pub fn all(&self) -> &[Reading] {
        &self.all
    }
}

/// One row.
fn reading(at: At<'_>, [from, to, ohms]: [&str; 3], parts: &Parts, listed: bool) -> Result<Reading, ContinuityError> {
    let from = point(at, from, parts, listed)?;
    let shows = shows(at, ohms)?;
    let to = if to.eq_ignore_ascii_case("others") {
        if shows != Shows::Open {
            let message = "`others` goes with `open` only";
            let mend = "write a row for each point that is joined, and then one with `others` and `open`";
            return Err(at.wrong(ContinuityErrorKind::Value, message, mend));
        }
        To::Others
    } else {
        To::Point(point(at, to, parts, listed)?)
    };
    if To::Point(from.clone()) == to {
        let message = format!("both probes are on {from}");
        return Err(at.wrong(ContinuityErrorKind::Point, message, "write the two points of the reading"));
    }
    Ok(Reading { line: at.line, from, to, shows })
}

fn point(at: At<'_>, text: &str, parts: &Parts, listed: bool) -> Result<Point, ContinuityError> {
    let wrong = |message: String, mend: &str| Err(at.wrong(ContinuityErrorKind::Point, message, mend));
    if !is_net_name(text) || text.chars().any(char::is_control) {
        let mend = "write a pin as `U3.5`, a contact by its label, or the name of what the probe touched";
        return wrong(format!("{} is nothing that a probe can touch", shown(text)), mend);
    }
    if let Some((reference, pin)) = text.rsplit_once('.').filter(|(r, p)| is_reference(r) && !p.is_empty()) {
        let (reference, pin) = (reference.to_uppercase(), pin_label(pin));
        match parts.find(&reference) {
            Some((_, part)) if part.part.is_some() && part.role(&pin).is_none() => {
                return wrong(format!("{reference} is a {} and has no pin {pin}", part.text), "look at the pin again");
            }
            None if listed => {
                let mend = "put it into the list of parts, or mend the reference; a name has no dot";
                return wrong(format!("there is no part {} in the list", shown(&reference)), mend);
            }
            _ => return Ok(Point::Pin { reference, pin }),
        }
    }
    if let Some((reference, pin)) = text.split_once(['-', ':', '/'])
        && parts.find(&reference.to_uppercase()).is_some_and(|(_, part)| part.kind != PartKind::Contacts)
        && !pin.is_empty()
    {
        return wrong(format!("{} names a part but is no pin", shown(text)), "write a pin as `U3.5`");
    }
    let label = pin_label(text);
    let mut having = parts.contacts().filter(|c| c.pins.contains(&label));
    let only = match (having.next(), having.next()) {
        (Some(only), None) => Some(only.reference.clone()),
        (Some(_), Some(_)) => {
            return wrong(format!("two parts have a contact {label}"), "say which: `J1.5`");
        }
        _ => None,
    };
    let numbered = label.number().is_some();
    let only = only.or_else(|| {
        let mut all = parts.contacts();
        let first = all.next().map(|c| c.reference.clone());
        first.filter(|_| numbered && all.next().is_none())
    });
    match only {
        Some(reference) => Ok(Point::Pin { reference, pin: label }),
        None if numbered && !listed => Ok(Point::Pin { reference: UNLISTED_CONTACTS.to_owned(), pin: label }),
        None if numbered => wrong(format!("whose contact is {label}?"), "say which part has it: `J1.5`"),
        None => Ok(Point::Name(text.to_owned())),
    }
}

fn shows(at: At<'_>, text: &str) -> Result<Shows, ContinuityError> {
    if text.eq_ignore_ascii_case("open") {
        return Ok(Shows::Open);
    }
    let lower = text.to_lowercase().replace(',', ".");
    let volts = lower.strip_suffix('v').and_then(|number| {
        let (number, factor) = number.strip_suffix('m').map_or((number, 1.0), |milli| (milli, 1e-3));
        Some(number.trim().parse::<f64>().ok().filter(|v| v.is_finite() && (0.0..=1e5).contains(v))? * factor)
    });
    match (volts, resistance(text)) {
        (Some(volts), _) if volts <= 3.0 => Ok(Shows::Drop(volts)),
        (None, Some(ohms)) if ohms <= JOINED_UP_TO_OHMS => Ok(Shows::Joined),
        (None, Some(ohms)) => Ok(Shows::Ohms(ohms)),
        _ => {
            let mend = "write `open`, ohms as `0.3` or `4k7`, or a diode's drop as `0.62V`";
            Err(at.wrong(ContinuityErrorKind::Value, format!("{} is nothing that a meter shows", shown(text)), mend))
        }
    }
}
