//! What a check has to say about a trace, and the error that carries it.
use std::collections::BTreeMap;
use std::fmt;

use serde::{Serialize, Serializer};

use crate::circuit::{Label, Origin};

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Worth a look; nothing follows from it.
    Note,
    /// The trace has a meaning, but probably not the one that was meant.
    Warning,
    /// The trace has no meaning until this is mended.
    Error,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        })
    }
}

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// The file is not text in UTF-8.
    NotText,
    /// The header does not name the four columns.
    Header,
    /// A row is not whole, or a quotation mark is never closed.
    Row,
    /// More rows or packages than a trace may have, or more findings than are kept.
    TooMany,
    /// A word that could mean two things, or nothing, in this column.
    Word,
    /// A value that is not one: a resistance, a number of resistors.
    Value,
    /// A type number that the library does not have.
    UnknownPart,
    /// Two rows of one reference name different parts.
    PartDisagrees,
    /// A pin that the part does not have.
    UnknownPin,
    /// Two rows of one reference name the same pin, or two contacts have the same label.
    PinTwice,
    /// A supply pin without a row, or left open.
    PowerMissing,
    /// A supply pin on the other rail, or on something that is no rail.
    PowerWrong,
    /// VCC and GND are joined.
    RailsShorted,
    /// Another voltage than VCC and GND.
    OtherSupply,
    /// Inputs are joined to each other, and nothing drives them.
    NoDriver,
    /// An input that is joined to nothing.
    FloatingInput,
    /// An input that is joined to nothing, and whose level has no effect as its package is wired.
    IdleInput,
    /// Several push-pull outputs on one net.
    SeveralDrivers,
    /// A push-pull output shares its net with an output that can let go.
    MixedDrivers,
    /// Push-pull outputs that always agree drive one net together.
    ParallelDrivers,
    /// An output on a rail.
    ShortedOutput,
    /// Open-collector outputs on a net inside the card, and no resistor to pull it up.
    MissingPullUp,
    /// Resistors pull a net both ways, and which way it goes can't be told.
    PullUndecided,
    /// A net with a single pin.
    SinglePin,
    /// Two nets whose names differ only in upper and lower case.
    NamesAlike,
    /// Two contacts on one net.
    ContactsJoined,
    /// The trace has no contacts.
    NoContacts,
    /// An output pin without a row.
    PinLeftOut,
    /// Something that is marked as not yet traced, unknown or empty.
    Untraced,
    /// A part that settled logic can't stand for: refused in a proof.
    NotLogic,
    /// A series resistor that joins two nets.
    Joined,
    /// A resistor that holds a net at an output's level while nothing else drives it.
    Held,
    /// Parts that stay on the card: their pins are the outside of what is replaced.
    Stays,
    /// House numbers of the user's own, and the types that they stand for.
    HouseNumber,
    /// Supply pins that have no row and are taken as the data sheet prints them.
    PrintedSupply,
    /// A passive part that means nothing to logic.
    Ignored,
    /// A resistor and a capacitor that reset the card when power comes on.
    PowerUp,
    /// Something about a part that its data sheets leave open.
    Doubt,
    /// A contact of the original that the replacement doesn't have.
    ContactMissing,
    /// A contact of the replacement that the original doesn't have.
    ContactExtra,
    /// A contact that original and replacement drive from different sides.
    ContactDirection,
    /// Supply contacts that differ between original and replacement.
    ContactSupply,
}

/// What a finding is about.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Subject {
    /// A package, by its reference.
    Package(String),
    /// A pin of a package.
    Pin {
        /// The package's reference.
        reference: String,
        /// The pin.
        pin: Label,
    },
    /// A contact.
    Contact(Label),
    /// A net, by its name in the trace.
    Net(String),
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Subject::Package(reference) => f.write_str(reference),
            Subject::Pin { reference, pin } => write!(f, "{reference} pin {pin}"),
            Subject::Contact(label) => write!(f, "contact {label}"),
            Subject::Net(name) => f.write_str(&shown(name)),
        }
    }
}

/// How several findings of one cause read in one line: their subjects between these words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fold {
    pub(super) before: String,
    pub(super) after: String,
    /// From so many on they are one line.
    pub(super) from: usize,
}

/// One thing that a check found, with its place and its mend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// How bad it is.
    pub severity: Severity,
    /// What it is about.
    pub kind: FindingKind,
    /// The packages, pins, contacts and nets that it is about, as far as it names any: what the program goes by.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub about: Vec<Subject>,
    /// What is the case, with references, pins and nets as the trace names them: for a person.
    pub message: String,
    /// What to do about it; never empty for an error.
    pub mend: String,
    /// The row, or the line of the builder's caller.
    #[serde(serialize_with = "as_text")]
    pub origin: Origin,
    #[serde(skip)]
    pub(super) fold: Option<Fold>,
}

impl Finding {
    pub(super) fn new(severity: Severity, kind: FindingKind, origin: &Origin, message: String, mend: String) -> Self {
        Finding { severity, kind, about: Vec::new(), message, mend, origin: origin.clone(), fold: None }
    }

    /// The same, about these.
    pub(super) fn about(mut self, subjects: impl IntoIterator<Item = Subject>) -> Self {
        self.about.extend(subjects);
        self
    }

    /// The same: from so many on that read alike, they are one line of their subjects between these words.
    pub(super) fn folding(mut self, from: usize, before: impl Into<String>, after: impl Into<String>) -> Self {
        self.fold = Some(Fold { before: before.into(), after: after.into(), from });
        self
    }

    pub(super) fn error(kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) -> Self {
        Finding::new(Severity::Error, kind, origin, message, mend.into())
    }

    pub(super) fn warning(kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) -> Self {
        Finding::new(Severity::Warning, kind, origin, message, mend.into())
    }

    pub(super) fn note(kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) -> Self {
        Finding::new(Severity::Note, kind, origin, message, mend.into())
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.origin != Origin::Nowhere {
            write!(f, "{}: ", self.origin)?;
        }
        write!(f, "{}: {}", self.severity, self.message)?;
        if !self.mend.is_empty() {
            write!(f, "; {}", self.mend)?;
        }
        Ok(())
    }
}

fn as_text<S: Serializer>(origin: &Origin, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(origin)
}

/// How many findings of one severity are kept: a file that is nothing like a trace must not fill the memory.
pub(super) const MOST_FINDINGS: usize = 1_000;

/// Findings as they are collected. Beyond [`MOST_FINDINGS`] of one severity they are counted only.
#[derive(Debug, Default)]
pub(super) struct Findings {
    kept: Vec<Finding>,
    counts: [usize; 3],
}

impl Findings {
    /// Takes a finding up; the same one twice in a row is one.
    pub(super) fn push(&mut self, finding: Finding) {
        if self.kept.last() == Some(&finding) {
            return;
        }
        let Some(count) = self.counts.get_mut(finding.severity as usize) else { return };
        *count += 1;
        if *count <= MOST_FINDINGS {
            self.kept.push(finding);
        }
    }

    /// Makes one line of what has one cause.
    fn fold(&mut self) {
        let mut alike: BTreeMap<(FindingKind, Severity, String, String), Vec<usize>> = BTreeMap::new();
        for (at, finding) in self.kept.iter().enumerate() {
            if let Some(fold) = &finding.fold {
                let key = (finding.kind, finding.severity, fold.before.clone(), fold.after.clone());
                alike.entry(key).or_default().push(at);
            }
        }
        let mut gone = vec![false; self.kept.len()];
        for places in alike.into_values() {
            let Some((&first, others)) = places.split_first() else { continue };
            let Some(fold) = self.kept.get(first).and_then(|f| f.fold.clone()) else { continue };
            if places.len() < fold.from {
                continue;
            }
            let mut about: Vec<Subject> = Vec::new();
            for &at in &places {
                for subject in self.kept.get(at).into_iter().flat_map(|f| &f.about) {
                    if about.last() != Some(subject) {
                        about.push(subject.clone());
                    }
                }
            }
            for &at in others {
                if let Some(gone) = gone.get_mut(at) {
                    *gone = true;
                }
            }
            if let Some(folded) = self.kept.get_mut(first) {
                let named = list(about.iter().map(Subject::to_string).collect());
                folded.message = format!("{}{named}{}", fold.before, fold.after);
                folded.about = about;
            }
        }
        let mut gone = gone.into_iter();
        self.kept.retain(|_| !gone.next().unwrap_or(false));
    }

    pub(super) fn has_errors(&self) -> bool {
        self.counts.get(Severity::Error as usize).is_some_and(|&n| n > 0)
    }

    /// The findings, row by row, and a last word about those that were not kept.
    pub(super) fn into_sorted(mut self) -> Vec<Finding> {
        self.fold();
        self.kept.sort_by(|a, b| line(a).cmp(&line(b)).then(b.severity.cmp(&a.severity)));
        for (severity, count) in [Severity::Note, Severity::Warning, Severity::Error].into_iter().zip(self.counts) {
            if count > MOST_FINDINGS {
                let message = format!("{} more of this kind ({severity}) are not listed", count - MOST_FINDINGS);
                let mend = "mend those that are listed, then check again".to_owned();
                self.kept.push(Finding::new(severity, FindingKind::TooMany, &Origin::Nowhere, message, mend));
            }
        }
        self.kept
    }
}

fn line(finding: &Finding) -> u32 {
    match finding.origin {
        Origin::Line { line, .. } => line,
        Origin::Nowhere => 0,
    }
}

/// A trace that can't be used: everything that was found in it, errors, warnings and notes, row by row.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, Serialize)]
pub struct TraceError {
    /// The trace's file name, or the name that its builder was given.
    pub trace: String,
    /// Everything that was found; at least one is an error.
    pub findings: Vec<Finding>,
}

impl TraceError {
    /// Only the errors.
    pub fn errors(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.severity == Severity::Error)
    }
}

impl fmt::Display for TraceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const SHOWN: usize = 50;
        let count = self.errors().count();
        write!(f, "{}: {count} {} in the trace", self.trace, if count == 1 { "error" } else { "errors" })?;
        for finding in self.errors().take(SHOWN) {
            write!(f, "\n  {finding}")?;
        }
        if count > SHOWN {
            write!(f, "\n  and {} more", count - SHOWN)?;
        }
        Ok(())
    }
}

/// `1, 2 and 5`, and how many more there are if there are many.
pub(super) fn list(mut of: Vec<String>) -> String {
    const SHOWN: usize = 8;
    let more = of.len().saturating_sub(SHOWN);
    if more > 0 {
        of.truncate(SHOWN);
        return format!("{} and {more} more", of.join(", "));
    }
    whole_list(&of)
}

/// `1, 2 and 5`, however many there are.
pub(super) fn whole_list(of: &[String]) -> String {
    match of.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => of.concat(),
    }
}

/// A user's text as it stands in a message: in backquotes, on one line, cut when it is long.
pub(super) fn shown(text: &str) -> String {
    const LONGEST: usize = 48;
    let mut out = String::from("`");
    for c in text.chars().take(LONGEST) {
        if c.is_control() { out.extend(c.escape_debug()) } else { out.push(c) }
    }
    if text.chars().nth(LONGEST).is_some() {
        out.push('…');
    }
    out.push('`');
    out
}
