//! Who is right: what the trace says, what the source says, and the measurement on a working original that decides.
use serde::Serialize;

use crate::circuit::Origin;
use crate::simulate::Shown;

use super::{Cause, Probe};

/// A measurement that decides between the trace and the source.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Decision {
    /// The rows of the trace that the original's reasons come from, nearest first.
    pub trace: Vec<String>,
    /// The lines of the source that the replacement's reasons come from, nearest first.
    pub source: Vec<String>,
    /// What to measure on a working original.
    pub measure: String,
    /// What is seen there, and what follows: what to mend for either outcome.
    pub outcomes: Vec<(String, String)>,
}

impl Decision {
    /// The decision in words, a line each.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = vec![self.measure.clone()];
        lines.extend(self.outcomes.iter().map(|(seen, then)| format!("- {seen}: {then}")));
        lines
    }
}

/// The places that are told are few: what lies further back is in the reasons.
const MOST: usize = 3;

/// Nothing where neither side has a line in a file.
pub(super) fn decide(probe: &Probe, steps: usize) -> Option<Decision> {
    let (trace, source) = (lines(&probe.original_why), lines(&probe.replacement_why));
    if trace.is_empty() && source.is_empty() {
        return None;
    }
    let place = probe.places.first()?;
    let pins = if place.original.is_empty() { String::new() } else { format!(" ({})", place.original.join(", ")) };
    let at = format!("contact {} {}{pins}", place.label, place.name);
    let until = match steps {
        0 => "switch it on with the levels of the run".to_owned(),
        1 => "switch it on with the levels of the run and take its step".to_owned(),
        n => format!("switch it on with the levels of the run and take its {n} steps"),
    };
    let mend_source = match source.as_slice() {
        [] => "the trace is right: mend the source".to_owned(),
        places => format!("the trace is right: mend the source, at {}", places.join(", ")),
    };
    let mend_trace = match trace.as_slice() {
        [] => "the source is right: the trace is wrong".to_owned(),
        places => format!("the source is right: trace again what is at {}", places.join(", ")),
    };
    let whole = |of: &[Shown]| of.iter().map(Shown::to_string).collect::<Vec<_>>().join(", then ");
    let (original, replacement) = (whole(&probe.original), whole(&probe.replacement));
    let is_sure = probe.may.len() < 2 || !probe.replacement.last().is_some_and(|last| probe.may.contains(last));
    let (measure, outcomes) = if is_sure && probe.together.is_empty() {
        let seen = if probe.may.len() > 1 { format!("not {replacement}") } else { original };
        (
            format!("Measure on a working original: {until}, then look at {at}."),
            vec![(seen, mend_source), (replacement, mend_trace)],
        )
    } else {
        let others =
            if probe.together.is_empty() { String::new() } else { format!(", together with {}", probe.others()) };
        (
            format!(
                "Measure on a working original: {until}, and watch {at}{others}. How it powered up decides what it shows: \
                 several tries may be needed."
            ),
            vec![
                ("all as drawn for the replacement, once".to_owned(), mend_trace),
                ("never so, in many tries".to_owned(), mend_source),
            ],
        )
    };
    Some(Decision { trace, source, measure, outcomes })
}

fn lines(of: &[Cause]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for cause in of {
        let line = cause.origin.to_string();
        if !matches!(cause.origin, Origin::Nowhere) && !all.contains(&line) {
            all.push(line);
        }
    }
    all.truncate(MOST);
    all
}
