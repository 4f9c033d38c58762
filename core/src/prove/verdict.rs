//! What a proof says: proved, refuted with a sequence, or undecided with what was tried.
use std::fmt;
use std::time::Duration;

use crate::circuit::Label;
use crate::simulate::Shown;

/// The replacement refines the original.
#[derive(Clone, Debug)]
pub struct Proof {
    /// Name of the original.
    pub original: String,
    /// Name of the replacement.
    pub replacement: String,
    /// The assumptions under which this holds, in words.
    pub assumptions: Vec<String>,
    /// How the bits of the two correspond, one line a class.
    pub matches: Vec<String>,
    /// Unknowns of the original that the proof resolved, in words.
    pub unknowns: Vec<String>,
    /// Findings that don't break the proof: fights or restless starts of the original outside the match.
    pub findings: Vec<String>,
    /// How it was done.
    pub figures: Figures,
}

/// Figures of one proof.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    /// Kinds of events that were covered, one for each contact or group.
    pub events: usize,
    /// Rounds of matching.
    pub rounds: usize,
    /// Questions that went to the solver.
    pub questions: usize,
    /// Cases closed because both sides had the same term.
    pub structural: usize,
    /// How long it took.
    pub time: Duration,
    /// The solver, with its version.
    pub solver: String,
}

/// One event of a refutation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Happening {
    /// Contacts that change: label, name, new level.
    pub changes: Vec<(Label, String, bool)>,
}

/// A contact at which the two sides differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// The contact.
    pub label: Label,
    /// Its name.
    pub name: String,
    /// What the original shows in the last event, without repetitions, from the start that explains all before it and
    /// most of the last event.
    pub original: Vec<Shown>,
    /// What the replacement shows in the last event, without repetitions.
    pub replacement: Vec<Shown>,
    /// Whether both come to the same in the end, and only the way differs.
    pub pulse_only: bool,
}

/// A sequence of events that no run of the original explains.
#[derive(Clone)]
pub struct Refutation {
    /// Name of the original.
    pub original: String,
    /// Name of the replacement.
    pub replacement: String,
    /// The assumptions that the sequence keeps, in words.
    pub assumptions: Vec<String>,
    /// Levels at power-up: label, name, level.
    pub levels: Vec<(Label, String, bool)>,
    /// What the replacement holds at power-up, where it was free to choose.
    pub start: Vec<(String, bool)>,
    /// The events, in order.
    pub events: Vec<Happening>,
    /// Where it shows.
    pub differences: Vec<Difference>,
    /// Whether no shorter sequence exists.
    pub shortest: bool,
    pub(super) run: super::search::Run,
}

/// Neither proved nor refuted.
#[derive(Clone)]
pub struct Undecided {
    /// The obligation that stayed open.
    pub obligation: String,
    /// What was tried, in order.
    pub tried: Vec<String>,
    /// What would help.
    pub help: String,
}

/// Why there is no proof.
#[derive(Clone)]
pub enum Failure {
    /// The replacement does something that the original never would.
    Refuted(Box<Refutation>),
    /// It could not be told.
    Undecided(Undecided),
    /// The question itself makes no sense.
    Refused(String),
}

impl std::error::Error for Failure {}

impl fmt::Debug for Refutation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Debug for Undecided {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Debug for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // `fn main` and `#[test]` print errors through Debug: a person reads this
        write!(f, "\n{self}")
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Refuted(r) => r.fmt(f),
            Failure::Undecided(u) => u.fmt(f),
            Failure::Refused(why) => write!(f, "Not asked: {why}"),
        }
    }
}

impl fmt::Display for Undecided {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Undecided: {}", self.obligation)?;
        for t in &self.tried {
            writeln!(f, "  tried: {t}")?;
        }
        write!(f, "  what would help: {}", self.help)
    }
}

pub(super) fn level(high: bool) -> &'static str {
    if high { "high" } else { "low" }
}

/// What a contact showed, in words: over the last step, or at power-up if there was none.
fn sequence(of: &[Shown], has_steps: bool) -> String {
    match of {
        [] => "nothing".to_owned(),
        [only] if has_steps => format!("{only} before and after the last step"),
        [only] => only.to_string(),
        [first, rest @ ..] => {
            let rest: Vec<_> = rest.iter().map(Shown::to_string).collect();
            format!("{first} before the last step, then {}", rest.join(", then "))
        }
    }
}

impl fmt::Display for Refutation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let only_pulses = self.differences.iter().all(|d| d.pulse_only);
        let what = if only_pulses { "does not pulse as" } else { "differs from" };
        writeln!(f, "Refuted: the replacement `{}` {what} the original `{}`.", self.replacement, self.original)?;
        for a in &self.assumptions {
            writeln!(f, "  assuming {a}")?;
        }
        let levels: Vec<_> =
            self.levels.iter().map(|(label, name, high)| format!("{label} {name} {}", level(*high))).collect();
        writeln!(f, "  power on, with these levels from the board: contact {}", levels.join(", "))?;
        if !self.start.is_empty() {
            let start: Vec<_> = self.start.iter().map(|(name, high)| format!("{name} {}", level(*high))).collect();
            writeln!(f, "  registers of the replacement at power-up, as levels: {}", start.join(", "))?;
        }
        for (i, event) in self.events.iter().enumerate() {
            let changes: Vec<_> = event
                .changes
                .iter()
                .map(|(label, name, high)| format!("contact {label} {name} goes {}", level(*high)))
                .collect();
            writeln!(f, "  {:>3}. {}", i + 1, changes.join(", "))?;
        }
        let mut left: Vec<&Difference> = self.differences.iter().collect();
        while let Some(&d) = left.first() {
            let (alike, others): (Vec<&Difference>, _) =
                left.into_iter().partition(|o| o.original == d.original && o.replacement == d.replacement);
            left = others;
            let names: Vec<_> = alike.iter().map(|o| format!("{} {}", o.label, o.name)).collect();
            let contacts = if alike.len() == 1 { "contact" } else { "contacts" };
            writeln!(f, "  then at {contacts} {}:", names.join(", "))?;
            writeln!(f, "       the original is    {}", sequence(&d.original, !self.events.is_empty()))?;
            writeln!(f, "       the replacement is {}", sequence(&d.replacement, !self.events.is_empty()))?;
        }
        let length = if self.shortest { "No shorter sequence shows it." } else { "A shorter sequence may exist." };
        write!(f, "  Whatever state the original powers up in, it can't show this. {length}")
    }
}

impl fmt::Display for Proof {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "Proved: whatever the replacement `{}` shows at its contacts, the original `{}` could have shown.",
            self.replacement, self.original
        )?;
        for a in &self.assumptions {
            writeln!(f, "  assuming {a}")?;
        }
        for m in &self.matches {
            writeln!(f, "  {m}")?;
        }
        for u in &self.unknowns {
            writeln!(f, "  unknown of the original, resolved in the replacement's favour: {u}")?;
        }
        for finding in &self.findings {
            writeln!(f, "  finding: {finding}")?;
        }
        let g = &self.figures;
        write!(
            f,
            "  {} kinds of events, {} questions to Z3 {}, {} cases closed by structure, {:.1} ms",
            g.events,
            g.questions,
            g.solver,
            g.structural,
            g.time.as_secs_f64() * 1e3
        )
    }
}
