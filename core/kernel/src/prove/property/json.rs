//! Verdicts on properties as JSON: the shape that the guide's page on JSON describes, whatever the fields here are called.
use serde::{Serialize, Serializer};

use super::verdict::{Broken, Case, Condition, Held, How, Sequence};
use crate::circuit::Label;
use crate::explain::Cause;
use crate::prove::json::{bits, levels};
use crate::prove::{Happening, Hidden};

impl Serialize for Case {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            what: &'v str,
            after_events: Option<usize>,
        }
        Record { what: &self.what, after_events: self.after }.serialize(to)
    }
}

impl Serialize for Condition {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            condition: &'v str,
            before: Option<bool>,
            holds: bool,
            why: &'v [Cause],
        }
        let Condition { words, before, holds, why } = self;
        Record { condition: words, before: *before, holds: *holds, why }.serialize(to)
    }
}

impl Serialize for Sequence {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'v> {
            #[serde(serialize_with = "levels")]
            levels: &'v [(Label, String, bool)],
            #[serde(serialize_with = "bits")]
            start: &'v [(String, bool)],
            events: &'v [Happening],
            conditions: &'v [Condition],
            rests_on: Vec<String>,
            shortest: bool,
        }
        Record {
            levels: &self.levels,
            start: &self.start,
            events: &self.events,
            conditions: &self.conditions,
            rests_on: self.chances.iter().map(|(step, what)| format!("step {step}: {what}")).collect(),
            shortest: self.shortest,
        }
        .serialize(to)
    }
}

#[derive(Serialize)]
struct Record<'v> {
    property: &'v str,
    circuit: &'v str,
    verdict: &'static str,
    assumptions: &'v [String],
    acknowledged: &'v [String],
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    steps: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    never: Option<&'v [String]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    run: Option<&'v Sequence>,
    cases: &'v [Case],
    never_comes_about: &'v [String],
    by_typical_delays: usize,
    hidden: &'v [Hidden],
    findings: &'v [String],
    questions: usize,
    time_ms: f64,
}

impl Held {
    fn record<'v>(&'v self, verdict: &'static str) -> Record<'v> {
        let (by, steps, never, run) = match &self.how {
            How::Induction { steps } => (Some("induction"), Some(*steps), None, None),
            How::Invariant { never } => (Some("invariant"), None, Some(never.as_slice()), None),
            How::Reached(run) => (None, None, None, Some(&**run)),
        };
        Record {
            property: &self.property,
            circuit: &self.circuit,
            verdict,
            assumptions: &self.assumptions,
            acknowledged: &self.acknowledged,
            by,
            steps,
            never,
            run,
            cases: &self.cases,
            never_comes_about: &[],
            by_typical_delays: self.typical.len(),
            hidden: &[],
            findings: &self.findings,
            questions: self.questions,
            time_ms: self.time.as_secs_f64() * 1e3,
        }
    }
}

impl Serialize for Held {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        self.record(if matches!(self.how, How::Reached(_)) { "reached" } else { "proved" }).serialize(to)
    }
}

impl Serialize for Broken {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Short<'v> {
            property: &'v str,
            circuit: &'v str,
            verdict: &'static str,
            #[serde(skip_serializing_if = "Option::is_none")]
            run: Option<&'v Sequence>,
            #[serde(skip_serializing_if = "Option::is_none")]
            assumptions: Option<&'v [String]>,
            tried: &'v [String],
            #[serde(skip_serializing_if = "Option::is_none")]
            no_run_of_up_to: Option<usize>,
            #[serde(skip_serializing_if = "Option::is_none")]
            why: Option<String>,
        }
        let short = |property, circuit, verdict| Short {
            property,
            circuit,
            verdict,
            run: None,
            assumptions: None,
            tried: &[],
            no_run_of_up_to: None,
            why: None,
        };
        match self {
            Broken::Refuted(run) => {
                let mut record = short(&run.property, &run.circuit, "refuted");
                record.run = Some(run);
                record.assumptions = Some(&run.assumptions);
                record.serialize(to)
            }
            Broken::Unreachable(held) => held.record("unreachable").serialize(to),
            Broken::Vacuous { held, never } => {
                Record { never_comes_about: never, ..held.record("withheld") }.serialize(to)
            }
            Broken::Withheld { hidden, held } => Record { hidden, ..held.record("withheld") }.serialize(to),
            Broken::Undecided { property, circuit, tried, searched } => {
                let mut record = short(property, circuit, "undecided");
                record.tried = tried;
                record.no_run_of_up_to = *searched;
                record.serialize(to)
            }
            Broken::Restless { property, circuit, way } => {
                let mut record = short(property, circuit, "undecided");
                record.why = Some(format!("it does not come to rest {way}"));
                record.serialize(to)
            }
            Broken::Refused(why) => {
                let mut record = short("", "", "refused");
                record.why = Some(why.to_string());
                record.serialize(to)
            }
        }
    }
}
