//! From rows to a board: groups the rows by reference, looks the parts up, and has everything checked.
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use super::finding::{Finding, FindingKind, Findings, Subject, TraceError, shown, whole_list};
use super::library::{Behaviour, Lasting, Library, Part};
use super::misspelt::slips_for;
use super::neighbours::Neighbours;
use super::nets::Nets;
use super::package::{Fitted, Package, Pin};
use super::reading::Reading;
use super::sheet::Row;
use super::vocabulary::{self, PART_WORDS, PartWord, Passive, Stay, Wire, other_word_for, stay};
use super::{Board, check};
use crate::circuit::{Label, Origin};
use crate::nearest::{did_you_mean, mistyped, nearest};

/// The most references that a trace may have.
pub(super) const MOST_PACKAGES: usize = 10_000;

/// The board that the rows describe.
///
/// # Errors
/// If anything that was found is an error; everything that was found comes with it.
pub(super) fn board(
    name: String,
    trace: String,
    rows: Vec<Row>,
    library: &dyn Library,
    reading: &Reading,
    findings: Findings,
) -> Result<Board, TraceError> {
    let mut assembly = Assembly {
        library,
        reading,
        findings,
        house: BTreeMap::new(),
        taken: BTreeMap::new(),
        drawer: HashMap::new(),
        names: None,
        packages: Vec::new(),
        by_reference: HashMap::new(),
        contacts: HashMap::new(),
        untraced_nets: Vec::new(),
    };
    // what is missing in a file that could not be read is no finding
    let mut whole = !(rows.is_empty() && assembly.findings.has_errors());
    for row in rows {
        if !assembly.row(row) {
            whole = false;
            break;
        }
    }
    assembly.say_what_stays();
    let Assembly { mut findings, packages, untraced_nets, .. } = assembly;
    let nets = Nets::new(&packages, &untraced_nets, &mut findings);
    let (reading, neighbours, lasting) = (reading.clone(), Neighbours::default(), Lasting::default());
    let mut board = Board {
        name,
        trace,
        text: None,
        packages,
        untraced_nets,
        nets,
        findings: Vec::new(),
        neighbours,
        lasting,
        reading,
    };
    if whole {
        check::all(&board, &mut findings);
    }
    let failed = findings.has_errors();
    board.findings = findings.into_sorted();
    if failed { Err(TraceError { trace: board.trace, findings: board.findings }) } else { Ok(board) }
}

struct Assembly<'a> {
    library: &'a dyn Library,
    reading: &'a Reading,
    findings: Findings,
    /// House numbers that were met, and their types.
    house: BTreeMap<String, String>,
    /// Parts that stay because nothing else is known of them: how many of each text.
    taken: BTreeMap<String, usize>,
    /// What the library said about each part text.
    drawer: HashMap<String, Option<Arc<Part>>>,
    /// The library's type numbers, once they were asked for.
    names: Option<Vec<String>>,
    packages: Vec<Package>,
    by_reference: HashMap<String, usize>,
    /// Who has which contact.
    contacts: HashMap<Label, (String, Origin)>,
    untraced_nets: Vec<(String, Origin)>,
}

impl Assembly<'_> {
    fn error(&mut self, kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) {
        self.findings.push(Finding::error(kind, origin, message, mend));
    }

    /// One line for all house numbers, and one for all parts that stay because nothing else is known of them.
    fn say_what_stays(&mut self) {
        if !self.house.is_empty() {
            let said: Vec<String> = self.house.iter().map(|(number, part)| format!("{number} is {part}")).collect();
            let message = format!("house numbers: {}", whole_list(&said));
            self.findings.push(Finding::note(FindingKind::HouseNumber, &Origin::Nowhere, message, ""));
        }
        if !self.taken.is_empty() {
            let said: Vec<String> = self
                .taken
                .iter()
                .map(|(part, count)| if *count == 1 { shown(part) } else { format!("{count} × {}", shown(part)) })
                .collect();
            let message = format!(
                "no logic of the library, so they stay on the card, and their pins are the outside of what is replaced: {}",
                whole_list(&said)
            );
            self.findings.push(Finding::note(FindingKind::Stays, &Origin::Nowhere, message, ""));
        }
    }

    /// Takes one row up; false if there are too many references to go on.
    fn row(&mut self, mut row: Row) -> bool {
        if let Some(part) = self.reading.house_number(&row.part) {
            self.house.insert(row.part.clone(), part.to_owned());
            part.clone_into(&mut row.part);
        }
        if row.part.eq_ignore_ascii_case("untraced") {
            self.untraced_net(row);
            return true;
        }
        if row.reference.is_empty() {
            let message = "the row has no reference".to_owned();
            let mend = "write what is printed beside the part, like `U3`; invent one if nothing is";
            self.error(FindingKind::Row, &row.origin, message, mend);
            return true;
        }
        let key = row.reference.to_uppercase();
        let at = match self.by_reference.get(&key) {
            Some(&at) => at,
            None if self.packages.len() == MOST_PACKAGES => {
                let message = format!("more than {MOST_PACKAGES} references");
                self.error(FindingKind::TooMany, &row.origin, message, "is this the right file?");
                return false;
            }
            None => {
                let fitted = self.fitted(&row);
                self.packages.push(Package {
                    reference: row.reference.clone(),
                    part: row.part.clone(),
                    fitted,
                    pins: Vec::new(),
                    index: HashMap::new(),
                    others: None,
                    origin: row.origin.clone(),
                });
                self.by_reference.insert(key, self.packages.len() - 1);
                self.packages.len() - 1
            }
        };
        self.pin(at, row);
        true
    }

    /// A row that marks its net as not traced to its end.
    fn untraced_net(&mut self, row: Row) {
        match vocabulary::wire(&row.net) {
            Some(Wire::Net(net)) => self.untraced_nets.push((net, row.origin)),
            _ => {
                let message = "a row whose part is `untraced` marks a net, and this one names none".to_owned();
                let mend = "name the net; for a package that nobody has looked at write `U9,unknown,others,untraced`";
                self.error(FindingKind::Word, &row.origin, message, mend);
            }
        }
    }

    /// What the first row of a reference says is fitted.
    fn fitted(&mut self, row: &Row) -> Fitted {
        if row.part.is_empty() {
            let message = format!("the first row of {} names no part", shown(&row.reference));
            let mend = "write its type number, or `unknown`, or `empty` if nothing is fitted";
            self.error(FindingKind::Row, &row.origin, message, mend);
            return Fitted::Unknown;
        }
        if self.reading.is_listed(&row.part) {
            return Fitted::Stays(stay(&row.part));
        }
        let others_stay = self.reading.do_others_stay();
        match vocabulary::part_word(&row.part) {
            Ok(PartWord::Contacts) => Fitted::Contacts,
            Ok(PartWord::Stays(stay)) => Fitted::Stays(stay),
            Ok(PartWord::Passive(Passive::Foreign(_) | Passive::Capacitor { ignored: false, .. })) if others_stay => {
                self.taken(row, Stay::Analog)
            }
            Ok(PartWord::Passive(passive)) => Fitted::Passive(passive),
            Ok(PartWord::Empty) => Fitted::Empty,
            // a marked net never comes here
            Ok(PartWord::Unknown | PartWord::Untraced) => Fitted::Unknown,
            Ok(PartWord::Type) => match self.part(&row.part) {
                Some(part) if others_stay && *part.behaviour() != Behaviour::Logic => self.taken(row, Stay::Digital),
                Some(part) => Fitted::Chip(part),
                None if others_stay => self.unknown_or_staying(row),
                None => {
                    self.unknown_part(row);
                    Fitted::Unknown
                }
            },
            Err((wrong, mend)) => {
                self.error(FindingKind::Value, &row.origin, format!("{}: {wrong}", shown(&row.part)), mend);
                Fitted::Unknown
            }
        }
    }

    /// A part that stays because nothing else is known of it.
    fn taken(&mut self, row: &Row, stay: Stay) -> Fitted {
        let text = row.part.split_whitespace().collect::<Vec<_>>().join(" ");
        *self.taken.entry(text).or_default() += 1;
        Fitted::Stays(stay)
    }

    /// A type that the library doesn't have: it stays, unless it may be a known one misspelt.
    fn unknown_or_staying(&mut self, row: &Row) -> Fitted {
        let library = self.library;
        let names = self.names.get_or_insert_with(|| library.names());
        let slips = slips_for(&row.part, library, names);
        if slips.misspelt.is_empty() {
            if !slips.numbered_alike.is_empty() {
                let near = whole_list(&slips.numbered_alike);
                let message = format!(
                    "{} ({}) is no part of the library, and one digit from {near}: it is taken as another type, and stays",
                    shown(&row.reference),
                    row.part
                );
                let warning =
                    Finding::warning(FindingKind::UnknownPart, &row.origin, message, "look at what is printed on it");
                let subject = Subject::Package(row.reference.clone());
                let after = format!(
                    " ({}): no part of the library, and one digit from {near}: taken as another type",
                    row.part
                );
                self.findings.push(warning.about([subject]).folding(2, "", after));
            }
            return self.taken(row, Stay::Digital);
        }
        let near: Vec<&str> = slips.misspelt.iter().map(String::as_str).collect();
        let asked = did_you_mean(&near).unwrap_or_default();
        let message = format!("{} is no part of the library, and one character from one that is", shown(&row.part));
        let mend =
            format!("{asked} If it is another part, write `stays {}`, or list it among those that stay", row.part);
        self.error(FindingKind::UnknownPart, &row.origin, message, mend);
        Fitted::Unknown
    }

    fn part(&mut self, text: &str) -> Option<Arc<Part>> {
        let library = self.library;
        self.drawer.entry(text.to_uppercase()).or_insert_with(|| library.part(text).map(Arc::new)).clone()
    }

    fn unknown_part(&mut self, row: &Row) {
        let library = self.library;
        let names = self.names.get_or_insert_with(|| library.names());
        let words = PART_WORDS.iter().copied();
        let first = row.part.split_whitespace().next().unwrap_or_default();
        let mut near = nearest(&row.part, names.iter().map(String::as_str), mistyped(&row.part));
        match other_word_for(first) {
            Some(word) => near.insert(0, word),
            None => near.extend(nearest(first, words, mistyped(first))),
        }
        let mend = did_you_mean(&near).unwrap_or_else(|| match row.reference.to_uppercase().as_str() {
            r if r.starts_with('R') => {
                "a resistor is written `resistor 4k7`, a network `resistor network 8x4k7 common 1`".into()
            }
            r if r.starts_with('C') => "a capacitor is written `capacitor 100n`".into(),
            r if r.starts_with('D') => "a diode is written `diode 1N4148`".into(),
            r if r.starts_with('Q') || r.starts_with('T') => "a transistor is written `transistor 2N3904`".into(),
            _ => "write `stays` before it if it stays on the card, write `unknown` if its type can't be found out: the proof then \
                  leaves out what it touches"
                .into(),
        });
        let message = format!("{} is no part of the library", shown(&row.part));
        self.error(FindingKind::UnknownPart, &row.origin, message, mend);
    }

    /// Takes up the pin of a row.
    fn pin(&mut self, at: usize, row: Row) {
        let Some(package) = self.packages.get_mut(at) else { return };
        let mut problems = Vec::new();
        let mut error =
            |kind, message: String, mend: String| problems.push(Finding::error(kind, &row.origin, message, mend));
        if !row.part.is_empty() && !same_words(&row.part, &package.part) {
            error(
                FindingKind::PartDisagrees,
                format!(
                    "{} is {} here and {} at {}",
                    shown(&row.reference),
                    shown(&row.part),
                    shown(&package.part),
                    package.origin
                ),
                "one reference is one part: mend the part, or give one of them another reference".into(),
            );
        } else if row.pin.is_empty() && !matches!(package.fitted, Fitted::Passive(Passive::Capacitor { .. })) {
            error(
                FindingKind::Row,
                format!("the row of {} names no pin", shown(&row.reference)),
                "write the pin's number; `others` stands for all pins that have no row".into(),
            );
        } else if let Some(wire) = vocabulary::wire(&row.net) {
            if vocabulary::is_others(&row.pin) {
                others(package, wire, &row, &mut error);
            } else {
                // the pin that a polarised capacitor marks with nothing is the other one
                let label = if row.pin.is_empty() { Label::new("+") } else { vocabulary::pin_label(&row.pin) };
                listed(package, label, wire, &row, &mut self.contacts, &mut error);
            }
        } else {
            let what = if row.net.is_empty() { "no net".into() } else { format!("the net {}", shown(&row.net)) };
            error(
                FindingKind::Word,
                format!("{} has {what}, which says nothing", shown_pin(&row)),
                "write `open` if it was measured to be joined to nothing, `untraced` if nobody has looked".into(),
            );
        }
        for problem in problems {
            self.findings.push(problem);
        }
    }
}

/// A row that speaks of all pins without a row.
fn others(package: &mut Package, wire: Wire, row: &Row, error: &mut impl FnMut(FindingKind, String, String)) {
    let allowed = matches!(package.fitted, Fitted::Chip(_) | Fitted::Stays(_) | Fitted::Unknown | Fitted::Empty);
    if !allowed {
        let message = format!("`others` means nothing for {}", shown(&package.part));
        error(FindingKind::Word, message, "give each pin a row".into());
    } else if let Wire::Net(net) = &wire {
        let message = format!("the other pins of {} can't all be on {}", shown(&package.reference), shown(net));
        error(FindingKind::Word, message, "the net of `others` is `open` or `untraced`; give the pins rows".into());
    } else if let Some((_, first)) = &package.others {
        let message = format!("{} has a row `others` already, at {first}", shown(&package.reference));
        error(FindingKind::PinTwice, message, "take one of them out".into());
    } else {
        package.others = Some((wire, row.origin.clone()));
    }
}

/// A row of one pin.
fn listed(
    package: &mut Package,
    label: Label,
    wire: Wire,
    row: &Row,
    contacts: &mut HashMap<Label, (String, Origin)>,
    error: &mut impl FnMut(FindingKind, String, String),
) {
    if let Some(pins) = unknown_pin(&package.fitted, &label) {
        let message = format!("{} has no pin {}", package.called(), shown(label.as_str()));
        error(FindingKind::UnknownPin, message, pins);
        return;
    }
    if let Some(first) = package.pin(&label) {
        let again = if first.wire == wire { "again" } else { "on another net" };
        let message = format!("{} is listed {again}; it was first at {}", shown_pin(row), first.origin);
        error(FindingKind::PinTwice, message, "a pin has one row: mend the pin's number, or take one row out".into());
        return;
    }
    if matches!(package.fitted, Fitted::Contacts) {
        match contacts.entry(label.clone()) {
            Entry::Vacant(free) => {
                free.insert((package.reference.clone(), row.origin.clone()));
            }
            Entry::Occupied(taken) => {
                let (who, first) = taken.get();
                let message =
                    format!("contact {} of {} is a contact of {} too, at {first}", label, package.called(), shown(who));
                let mend = "give the contacts of each connector labels of their own, like `A1` and `B1`";
                error(FindingKind::PinTwice, message, mend.into());
                return;
            }
        }
    }
    package.index.insert(label.clone(), package.pins.len());
    package.pins.push(Pin { label, wire, origin: row.origin.clone() });
}

/// If the part has no such pin, which pins it has.
fn unknown_pin(fitted: &Fitted, label: &Label) -> Option<String> {
    match fitted {
        Fitted::Chip(part) if part.pin(label).is_none() => {
            let pins: Vec<&Label> = part.pins().map(|(label, _)| label).collect();
            let counted = pins.iter().zip(1..).all(|(label, n)| label.number() == Some(n));
            Some(match pins.last() {
                Some(last) if counted => format!("it has pins 1 to {last}"),
                _ => format!("its pins are {}", pins.iter().map(|l| l.as_str()).collect::<Vec<_>>().join(", ")),
            })
        }
        Fitted::Passive(Passive::Resistors { pins, .. })
            if !label.number().is_some_and(|n| (1..=*pins).contains(&n)) =>
        {
            Some(format!("it has pins 1 to {pins}"))
        }
        Fitted::Passive(Passive::Capacitor { .. }) if !["1", "2", "+", "-"].contains(&label.as_str()) => {
            Some("it has pins 1 and 2, or + and -".into())
        }
        _ => None,
    }
}

fn shown_pin(row: &Row) -> String {
    format!("{} pin {}", shown(&row.reference), shown(&row.pin))
}

/// The same but for upper and lower case and spaces.
fn same_words(a: &str, b: &str) -> bool {
    a.split_whitespace().map(str::to_lowercase).eq(b.split_whitespace().map(str::to_lowercase))
}
