//! Verdicts as JSON: the shape that the guide's page on JSON describes, whatever the fields here are called.
use serde::ser::SerializeSeq;
use serde::{Serialize, Serializer};

use super::{
    Difference, Failure, Figures, Happening, Hidden, Method, Of, Proof, ProvedPart, Refutation, Typical, Undecided,
    Why, Withheld,
};
use crate::circuit::Label;
use crate::order::Typically;
use crate::simulate::Shown;

/// A level at a contact.
#[derive(Serialize)]
struct AtContact<'v> {
    contact: &'v Label,
    name: &'v str,
    high: bool,
}

/// What a register, a latch or a loop holds.
#[derive(Serialize)]
struct Holds<'v> {
    element: &'v str,
    high: bool,
}

/// Levels at contacts, as a list of `{"contact": …, "name": …, "high": …}`.
pub(crate) fn levels<S: Serializer>(all: &[(Label, String, bool)], to: S) -> Result<S::Ok, S::Error> {
    let mut to = to.serialize_seq(Some(all.len()))?;
    for (contact, name, high) in all {
        to.serialize_element(&AtContact { contact, name, high: *high })?;
    }
    to.end()
}

/// What elements hold, as a list of `{"element": …, "high": …}`.
pub(crate) fn bits<S: Serializer>(all: &[(String, bool)], to: S) -> Result<S::Ok, S::Error> {
    let mut to = to.serialize_seq(Some(all.len()))?;
    for (element, high) in all {
        to.serialize_element(&Holds { element, high: *high })?;
    }
    to.end()
}

/// Contacts, as a list of `{"contact": …, "name": …}`.
pub(crate) fn contacts<S: Serializer>(all: &[(Label, String)], to: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Record<'v> {
        contact: &'v Label,
        name: &'v str,
    }
    let mut to = to.serialize_seq(Some(all.len()))?;
    for (contact, name) in all {
        to.serialize_element(&Record { contact, name })?;
    }
    to.end()
}

impl Serialize for Happening {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        levels(&self.changes, to)
    }
}

impl Serialize for Difference {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            contact: &'v Label,
            name: &'v str,
            original: &'v [Shown],
            replacement: &'v [Shown],
            pulse_only: bool,
        }
        let Difference { label, name, original, replacement, pulse_only } = self;
        Record { contact: label, name, original, replacement, pulse_only: *pulse_only }.serialize(to)
    }
}

impl Serialize for Refutation {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            original: &'v str,
            replacement: &'v str,
            assumptions: &'v [String],
            #[serde(serialize_with = "levels")]
            levels: &'v [(Label, String, bool)],
            #[serde(serialize_with = "bits")]
            start: &'v [(String, bool)],
            #[serde(serialize_with = "bits")]
            original_start: &'v [(String, bool)],
            events: &'v [Happening],
            differences: &'v [Difference],
            shortest: bool,
        }
        Record {
            original: &self.original,
            replacement: &self.replacement,
            assumptions: &self.assumptions,
            levels: &self.levels,
            start: &self.start,
            original_start: &self.original_start(),
            events: &self.events,
            differences: &self.differences,
            shortest: self.shortest,
        }
        .serialize(to)
    }
}

impl Serialize for Method {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        #[serde(tag = "by", rename_all = "snake_case")]
        enum Record {
            Induction,
            Walk { places: usize },
        }
        match *self {
            Method::Induction => Record::Induction,
            Method::Walk { places } => Record::Walk { places },
        }
        .serialize(to)
    }
}

impl Serialize for Figures {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            kinds_of_events: usize,
            rounds: usize,
            questions: usize,
            answered_by_truth_tables: usize,
            closed_by_structure: usize,
            time_ms: f64,
            solver: &'v str,
        }
        Record {
            kinds_of_events: self.events,
            rounds: self.rounds,
            questions: self.questions,
            answered_by_truth_tables: self.tables,
            closed_by_structure: self.structural,
            time_ms: self.time.as_secs_f64() * 1e3,
            solver: &self.solver,
        }
        .serialize(to)
    }
}

impl Serialize for Hidden {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        #[serde(rename_all = "snake_case")]
        enum Reason<'v> {
            Constant { high: bool },
            Race,
            Order { rule: crate::order::Rule, when_these_change: &'v str, first: &'v [String], second: &'v [String] },
            Floats { nets: &'v [String] },
            Ignored { runs: u32, shows: &'v str },
            NeverMoving { runs: u32 },
            OpenAgain,
            InTurn { when_these_change: &'v str },
            Fades { when_these_change: &'v str, first: &'v [String], second: &'v [String] },
        }
        #[derive(Serialize)]
        struct Record<'v> {
            side: &'static str,
            name: &'v str,
            acknowledged_by: &'v str,
            other_names: &'v [String],
            why: Reason<'v>,
            reaches: &'v [String],
        }
        Record {
            side: match self.of {
                Of::Original => "original",
                Of::Replacement => "replacement",
            },
            name: &self.name,
            acknowledged_by: &self.call,
            other_names: &self.others,
            why: match &self.why {
                Why::Constant(high) => Reason::Constant { high: *high },
                Why::Race => Reason::Race,
                Why::Order { rule, event, first, second, .. } => {
                    Reason::Order { rule: *rule, when_these_change: event, first, second }
                }
                Why::Floats { nets } => Reason::Floats { nets },
                Why::Ignored { runs, shows } => Reason::Ignored { runs: *runs, shows },
                Why::Still { runs } => Reason::NeverMoving { runs: *runs },
                Why::OpenAgain => Reason::OpenAgain,
                Why::InTurn { event } => Reason::InTurn { when_these_change: event },
                Why::Fades { event, first, second } => Reason::Fades { when_these_change: event, first, second },
            },
            reaches: &self.reaches,
        }
        .serialize(to)
    }
}

impl Serialize for Typical {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            place: &'v Hidden,
            takes_new_data: bool,
            holds_to_spread: f64,
            clock_ns: (f64, f64),
            data_ns: (f64, f64),
        }
        let Typical { finding, by } = self;
        let Typically { new, spread, clock_ns, data_ns } = *by;
        Record { place: finding, takes_new_data: new, holds_to_spread: spread, clock_ns, data_ns }.serialize(to)
    }
}

impl Serialize for Proof {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            original: &'v str,
            replacement: &'v str,
            whole: bool,
            assumptions: &'v [String],
            method: &'v Method,
            matched_bits: &'v [String],
            unknowns_of_the_original: &'v [String],
            races: &'v [Hidden],
            acknowledged: &'v [String],
            contacts_left_out: &'v [String],
            untraced: &'v [String],
            by_typical_delays: &'v [Typical],
            findings: &'v [String],
            parts: &'v [ProvedPart],
            figures: &'v Figures,
        }
        Record {
            original: &self.original,
            replacement: &self.replacement,
            whole: self.is_whole(),
            assumptions: &self.assumptions,
            method: &self.method,
            matched_bits: &self.matches,
            unknowns_of_the_original: &self.unknowns,
            races: &self.races,
            acknowledged: &self.acknowledged,
            contacts_left_out: &self.left_out,
            untraced: &self.untraced,
            by_typical_delays: &self.typical,
            findings: &self.findings,
            parts: &self.parts,
            figures: &self.figures,
        }
        .serialize(to)
    }
}

impl Serialize for ProvedPart {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            contacts: &'v [String],
            method: &'v Method,
        }
        Record { contacts: &self.contacts, method: &self.method }.serialize(to)
    }
}

impl Serialize for Undecided {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            obligation: &'v str,
            tried: &'v [String],
            proved_contacts: &'v [String],
            no_refutation_up_to_events: Option<usize>,
            states_visited: usize,
            would_help: &'v str,
        }
        Record {
            obligation: &self.obligation,
            tried: &self.tried,
            proved_contacts: &self.proved,
            no_refutation_up_to_events: self.searched,
            states_visited: self.visited,
            would_help: &self.help,
        }
        .serialize(to)
    }
}

impl Serialize for Withheld {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            hidden: &'v [Hidden],
            proof: &'v Proof,
        }
        Record { hidden: &self.hidden, proof: &self.proof }.serialize(to)
    }
}

/// One field named after the verdict: `{"refuted": …}`.
impl Serialize for Failure {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        #[serde(rename_all = "snake_case")]
        enum Record<'v> {
            Refuted(&'v Refutation),
            Undecided(&'v Undecided),
            Withheld(&'v Withheld),
            InPart(&'v Proof),
            Refused(String),
        }
        match self {
            Failure::Refuted(r) => Record::Refuted(r),
            Failure::Undecided(u) => Record::Undecided(u),
            Failure::Withheld(w) => Record::Withheld(w),
            Failure::InPart(proof) => Record::InPart(proof),
            Failure::Refused(why) => Record::Refused(why.to_string()),
        }
        .serialize(to)
    }
}
