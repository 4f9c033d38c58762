//! The words by which one finding of time is acknowledged: written, and read.
use crate::order::{Outcome, Rule};

use super::hidden::{Hidden, Of, Why};

/// What is in doubt, by the word with which it is acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Subject {
    Data,
    Release,
    JointRelease,
    Pulse,
    Loop,
    Order,
}

impl Subject {
    const ALL: [Subject; 6] =
        [Subject::Data, Subject::Release, Subject::JointRelease, Subject::Pulse, Subject::Loop, Subject::Order];

    fn of(rule: Rule) -> Self {
        match rule {
            Rule::Race => Subject::Data,
            Rule::Recovery => Subject::Release,
            Rule::JointRelease => Subject::JointRelease,
            Rule::Pulse(_) => Subject::Pulse,
            Rule::Loop => Subject::Loop,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Subject::Data => "data of ",
            Subject::Release => "release of ",
            Subject::JointRelease => "joint release of ",
            Subject::Pulse => "pulse of ",
            Subject::Loop => "loop of ",
            Subject::Order => "order of ",
        }
    }
}

/// What acknowledges one finding of time: what is in doubt, of what, on which side, in which kind of event.
pub(super) fn written(rule: Rule, name: &str, others: usize, of: Of, event: &str) -> String {
    format!("{}{name}{}{}", Subject::of(rule).word(), and(others), place(of, event))
}

/// What acknowledges contacts that one side moves in turn, and the other together.
pub(super) fn in_turn(name: &str, others: usize, of: Of, event: &str) -> String {
    format!("{}{name}{}{}", Subject::Order.word(), and(others), place(of, event))
}

/// Other things that are meant too.
fn and(others: usize) -> String {
    match others {
        0 => String::new(),
        1 => " and another".to_owned(),
        n => format!(" and {n} others"),
    }
}

/// On which side, and in which kind of event.
fn place(of: Of, event: &str) -> String {
    format!(" of the {of} when {event} changes")
}

/// An acknowledgement as it was read.
struct Call<'a> {
    subject: Subject,
    of: Of,
    event: &'a str,
}

/// An acknowledgement without its outcome, and this.
fn split(text: &str) -> (&str, Option<Outcome>) {
    let said = |o: Outcome| Some((text.strip_suffix(&o.to_string())?.strip_suffix(": ")?, Some(o)));
    Outcome::ALL.into_iter().find_map(said).unwrap_or((text, None))
}

/// What a call says, without its outcome.
fn read(call: &str) -> Option<Call<'_>> {
    let subject = Subject::ALL.into_iter().find(|s| call.starts_with(s.word()))?;
    let call = call.strip_suffix(" changes")?;
    let sides = [Of::Original, Of::Replacement].into_iter();
    let (of, event) = sides.filter_map(|of| Some((of, call.rsplit_once(&format!(" of the {of} when "))?.1))).next()?;
    Some(Call { subject, of, event })
}

/// Whether an acknowledgement is of a finding of time: of this one, or, if the circuit is another form of what it was
/// given for, of one of the same rule in the same kind of event. Says how it turns out.
pub(super) fn outcome(acknowledged: &str, finding: &Hidden, another_form: bool) -> Option<Outcome> {
    let Why::Order { rule, event, .. } = &finding.why else { return None };
    let (call, outcome) = split(acknowledged);
    let is_alike =
        || read(call).is_some_and(|c| c.subject == Subject::of(*rule) && c.of == finding.of && c.event == event);
    (call == finding.call || another_form && is_alike()).then(|| outcome.unwrap_or(Outcome::Either))
}

/// Whether an acknowledgement covers contacts that a side moves in turn: these, or, of another form of the circuit, some
/// that move in the same kind of event.
pub(super) fn covers(acknowledged: &str, finding: &Hidden, another_form: bool) -> bool {
    let Why::InTurn { event } = &finding.why else { return false };
    let is_alike =
        || read(acknowledged).is_some_and(|c| c.subject == Subject::Order && c.of == finding.of && c.event == event);
    acknowledged == finding.call || another_form && is_alike()
}

/// Whether an acknowledgement is worded as one of a finding of time.
pub(super) fn is_of_time(acknowledged: &str) -> bool {
    read(split(acknowledged).0).is_some()
}
