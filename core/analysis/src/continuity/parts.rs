//! The list of what sits on the board, in the order in which one walks over it.
use std::collections::BTreeMap;

use gluewright_kernel::board::written::{PartKind, delimiter, part_kind, pin_label};
use gluewright_kernel::board::{Library, Part, PinRole};
use gluewright_kernel::circuit::Label;

use super::error::{At, ContinuityError, ContinuityErrorKind, shown};
use super::table::{Columns, records};

/// The most parts that a board may have, as in a trace.
const MOST_PARTS: usize = 10_000;
/// The most pins of one part of the list.
const MOST_PINS: u16 = 1_000;

/// What sits on the board: reference, part and, where no library knows them, pins.
#[derive(Clone, Debug, Default)]
pub struct Parts {
    all: Vec<Listed>,
    at: BTreeMap<String, usize>,
}

/// One part of the list.
#[derive(Clone, Debug)]
pub(super) struct Listed {
    pub(super) reference: String,
    /// As a trace says it.
    pub(super) text: String,
    pub(super) kind: PartKind,
    /// If the library has it.
    pub(super) part: Option<Part>,
    /// Its pins, in order, as far as anything says which they are.
    pub(super) pins: Vec<Label>,
}

impl Listed {
    pub(super) fn role(&self, pin: &Label) -> Option<PinRole> {
        self.part.as_ref()?.pin(pin)
    }

    /// It has rows of pins side by side.
    pub(super) fn is_package(&self) -> bool {
        matches!(self.kind, PartKind::Contacts | PartKind::Stays | PartKind::Unknown | PartKind::Type)
    }
}

impl Parts {
    /// No list: parts are what the readings name, and nobody knows their types.
    pub fn none() -> Parts {
        Parts::default()
    }

    /// Reads a list in CSV with the columns `ref`, `part` and, where wanted, `pins`, in the order in which one walks over
    /// the board. `part` has the words of a trace. In `pins` stands how many pins a part has that no library knows, or its
    /// labels: `24`, `A1-A22 B1-B22`.
    ///
    /// # Errors
    /// The first row that can't be read.
    pub fn from_csv(file: &str, content: impl AsRef<[u8]>, library: &dyn Library) -> Result<Parts, ContinuityError> {
        let mut parts = Parts::default();
        let names: [&[&str]; 3] = [
            &["ref", "reference", "refdes", "designator", "reference designator"],
            &["part", "type", "value", "part number", "device"],
            &["pins"],
        ];
        let text = super::table::text(file, content.as_ref())?;
        let mut columns: Option<Columns<3>> = None;
        for record in records(file, text, delimiter(text)) {
            let (line, record) = record?;
            let at = At { file, line };
            let Some(columns) = &columns else {
                columns = Some(Columns::of(at, &record, names, 2, "ref,part,pins")?);
                continue;
            };
            let [references, part, pins] = columns.fields(&record);
            if parts.all.len() >= MOST_PARTS {
                let message = format!("more than {MOST_PARTS} parts");
                return Err(at.wrong(ContinuityErrorKind::TooMany, message, "is this the right file?"));
            }
            for reference in references.split([',', ';', ' ']).map(str::trim).filter(|r| !r.is_empty()) {
                parts.add(at, reference, part, pins, library)?;
            }
        }
        if columns.is_none() {
            let at = At { file, line: 1 };
            let mend = "start it with the header `ref,part,pins`";
            return Err(at.wrong(ContinuityErrorKind::Header, "the list has no rows", mend));
        }
        Ok(parts)
    }

    fn add(
        &mut self,
        at: At<'_>,
        reference: &str,
        text: &str,
        pins: &str,
        library: &dyn Library,
    ) -> Result<(), ContinuityError> {
        let reference = reference.to_uppercase();
        if !is_reference(&reference) {
            let message = format!("{} is no reference", shown(&reference));
            let mend = "write what is printed beside the part: letters first, then figures, as `U3`";
            return Err(at.wrong(ContinuityErrorKind::Part, message, mend));
        }
        let Some(kind) = part_kind(text).filter(|_| !text.is_empty()) else {
            let message = format!("{} says nothing about {reference}", shown(text));
            let mend = "write a type number or a word of a trace: `contacts`, `resistor 4k7`, `stays`, `unknown`";
            return Err(at.wrong(ContinuityErrorKind::Part, message, mend));
        };
        let part = if kind == PartKind::Type { library.part(text) } else { None };
        let written = labels(pins).ok_or_else(|| {
            let message = format!("{} are no pins", shown(pins));
            at.wrong(ContinuityErrorKind::Part, message, "write how many there are, or labels: `24`, `A1-A22 B1-B22`")
        })?;
        let pins: Vec<Label> = match (&part, &kind) {
            (Some(part), _) => part.pins().map(|(label, _)| label.clone()).collect(),
            (None, PartKind::Resistor(_)) if written.is_empty() => [1, 2].map(Label::from).to_vec(),
            _ => written,
        };
        if self.at.contains_key(&reference) {
            let message = format!("{reference} is listed twice");
            return Err(at.wrong(ContinuityErrorKind::Part, message, "take one of the two out"));
        }
        self.push(Listed { reference, text: text.to_owned(), kind, part, pins });
        Ok(())
    }

    fn push(&mut self, listed: Listed) {
        self.at.insert(listed.reference.clone(), self.all.len());
        self.all.push(listed);
    }

    /// A pin that a reading names. A part that is not listed is one that nobody knows, and a pin that no library knows is
    /// one more pin of its part.
    pub(super) fn take(&mut self, reference: &str, pin: &Label, is_contact: bool) {
        if !self.at.contains_key(reference) {
            let (kind, text) =
                if is_contact { (PartKind::Contacts, "contacts") } else { (PartKind::Unknown, "unknown") };
            let text = text.to_owned();
            self.push(Listed { reference: reference.to_owned(), text, kind, part: None, pins: Vec::new() });
        }
        let Some(listed) = self.at.get(reference).and_then(|&at| self.all.get_mut(at)) else { return };
        if let Err(place) = listed.pins.binary_search(pin) {
            listed.pins.insert(place, pin.clone());
        }
    }

    pub(super) fn all(&self) -> &[Listed] {
        &self.all
    }

    pub(super) fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    pub(super) fn find(&self, reference: &str) -> Option<(usize, &Listed)> {
        let at = *self.at.get(reference)?;
        Some((at, self.all.get(at)?))
    }

    /// The socket's contacts.
    pub(super) fn contacts(&self) -> impl Iterator<Item = &Listed> {
        self.all.iter().filter(|listed| listed.kind == PartKind::Contacts)
    }
}

/// Whether this can be printed beside a part.
pub(super) fn is_reference(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_')
        && text.chars().all(|c| !c.is_whitespace() && !c.is_control() && c != '.' && c != ',')
}

/// The labels that a text names: a number of pins, single ones, or ranges.
fn labels(text: &str) -> Option<Vec<Label>> {
    let mut all = Vec::new();
    let whole = text.trim();
    if let Ok(count) = whole.parse::<u16>() {
        return (count <= MOST_PINS).then(|| (1..=count).map(Label::from).collect());
    }
    for word in whole.split_whitespace() {
        // a capacitor has a pin `-`
        match word.split_once('-').filter(|(first, last)| !first.is_empty() && !last.is_empty()) {
            None => all.push(pin_label(word)),
            Some((first, last)) => {
                let ((letters, from), (others, to)) = (numbered(first)?, numbered(last)?);
                if letters != others || from > to || to - from >= MOST_PINS {
                    return None;
                }
                all.extend((from..=to).map(|n| Label::new(format!("{letters}{n}"))));
            }
        }
        if all.len() > usize::from(MOST_PINS) {
            return None;
        }
    }
    all.sort();
    all.dedup();
    Some(all)
}

/// The letters that a label starts with, and its number.
pub(super) fn numbered(label: &str) -> Option<(&str, u16)> {
    let digits = label.find(|c: char| c.is_ascii_digit())?;
    let (letters, number) = label.split_at(digits);
    Some((letters, number.parse().ok()?))
}
