//! What a check has to say about a trace, and the error that carries it.
use std::fmt;

use serde::{Serialize, Serializer};

use crate::circuit::Origin;

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
    /// A passive part that means nothing to logic.
    Ignored,
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

/// One thing that a check found, with its place and its mend.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// How bad it is.
    pub severity: Severity,
    /// What it is about.
    pub kind: FindingKind,
    /// What is the case, with references, pins and nets as the trace names them.
    pub message: String,
    /// What to do about it; never empty for an error.
    pub mend: String,
    /// The row, or the line of the builder's caller.
    #[serde(serialize_with = "as_text")]
    pub origin: Origin,
}

impl Finding {
    pub(super) fn error(kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) -> Self {
        Finding { severity: Severity::Error, kind, message, mend: mend.into(), origin: origin.clone() }
    }

    pub(super) fn warning(kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) -> Self {
        Finding { severity: Severity::Warning, kind, message, mend: mend.into(), origin: origin.clone() }
    }

    pub(super) fn note(kind: FindingKind, origin: &Origin, message: String, mend: impl Into<String>) -> Self {
        Finding { severity: Severity::Note, kind, message, mend: mend.into(), origin: origin.clone() }
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

    pub(super) fn has_errors(&self) -> bool {
        self.counts.get(Severity::Error as usize).is_some_and(|&n| n > 0)
    }

    /// The findings, row by row, and a last word about those that were not kept.
    pub(super) fn into_sorted(mut self) -> Vec<Finding> {
        self.kept.sort_by(|a, b| line(a).cmp(&line(b)).then(b.severity.cmp(&a.severity)));
        for (severity, count) in [Severity::Note, Severity::Warning, Severity::Error].into_iter().zip(self.counts) {
            if count > MOST_FINDINGS {
                self.kept.push(Finding {
                    severity,
                    kind: FindingKind::TooMany,
                    message: format!("{} more of this kind ({severity}) are not listed", count - MOST_FINDINGS),
                    mend: "mend those that are listed, then check again".into(),
                    origin: Origin::Nowhere,
                });
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
