//! What a proof says: proved, refuted with a sequence, or undecided with what was tried.
use std::fmt;
use std::time::Duration;

use crate::circuit::Label;
use crate::order::Outcome;
use crate::simulate::Shown;

use super::Refusal;

/// How something was proved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Method {
    /// Bits of the two sides that correspond, kept by every kind of event.
    Induction,
    /// Every state of the replacement was visited, each with the set of states in which the original may then be.
    Walk {
        /// How many such pairs.
        places: usize,
    },
}

/// The replacement refines the original.
#[derive(Clone, Debug)]
pub struct Proof {
    /// Name of the original.
    pub original: String,
    /// Name of the replacement.
    pub replacement: String,
    /// The assumptions under which this holds, in words.
    pub assumptions: Vec<String>,
    /// How it was proved.
    pub method: Method,
    /// How the bits of the two correspond, one line a class; nothing if it was not proved by induction.
    pub matches: Vec<String>,
    /// Unknowns of the original that the proof resolved, in words.
    pub unknowns: Vec<String>,
    /// Registers of either side whose data, clear or preset can change in the moment of their clock: acknowledged, if
    /// this is a proof.
    pub races: Vec<super::Hidden>,
    /// What was acknowledged, by name.
    pub acknowledged: Vec<String>,
    /// Where the proof follows another order of changes than the phases have, as somebody measured or typical delays say: the
    /// finding and its outcome, in words.
    pub orders: Vec<String>,
    /// Contacts that are not covered, and why: what they depend on is not traced.
    pub left_out: Vec<String>,
    /// What is not traced, in words.
    pub untraced: Vec<String>,
    /// Orders of changes in the original that typical delays of its parts decide, and on which the proof may rest.
    pub typical: Vec<Typical>,
    /// Findings that don't break the proof: fights or restless starts of the original outside the match.
    pub findings: Vec<String>,
    /// How it was done.
    pub figures: Figures,
    /// The parts that have nothing in common but inputs and were proved by themselves; nothing if it was proved as a whole.
    pub parts: Vec<ProvedPart>,
    pub(super) certificate: Option<super::obligations::Certificate>,
    pub(super) ground: super::certificate::Ground,
}

/// An order of changes that causality leaves open and typical delays of one board decide.
#[derive(Clone, Debug, PartialEq)]
pub struct Typical {
    /// What would be open without them.
    pub finding: super::Hidden,
    /// What they say; of several registers that were written at one place the closest.
    pub by: crate::order::Typically,
}

impl fmt::Display for Typical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ns = |(least, most): (f64, f64)| {
            if least == most { format!("{most:.0}") } else { format!("{least:.0} to {most:.0}") }
        };
        write!(
            f,
            "{}, by typical delays: it takes the {} data; from the last common cause the data take {} ns, and its clock or gate \
             {} ns; it holds while delays keep within {:.0} % of the typical ones",
            self.finding.call,
            if self.by.new { "new" } else { "old" },
            ns(self.by.data_ns),
            ns(self.by.clock_ns),
            (self.by.spread * 100.0).floor()
        )
    }
}

/// A part of a pair that was proved by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProvedPart {
    /// The contacts that it covers: label and name.
    pub contacts: Vec<String>,
    /// How it was proved.
    pub method: Method,
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
    /// Questions that a truth table answered.
    pub tables: usize,
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
    /// Orders of changes that it follows, as typical delays say or somebody measured, in words: with another one the original
    /// may show it.
    pub orders: Vec<String>,
    pub(crate) evidence: super::Evidence,
    pub(super) run: super::run::Run,
}

impl Proof {
    /// At how many places it rests on typical delays, in words; empty if at none.
    pub fn by_typical(&self) -> String {
        match self.typical.len() {
            0 => String::new(),
            n => format!(", by typical delays at {}", counted(n, "place", "places")),
        }
    }

    /// Whether it covers the whole original: nothing of that is untraced.
    pub fn is_whole(&self) -> bool {
        self.left_out.is_empty() && self.untraced.is_empty()
    }
}

/// A proof over settled levels that is not given away, because settling hides something that nobody has acknowledged.
#[derive(Clone)]
pub struct Withheld {
    /// What is hidden.
    pub hidden: Vec<super::Hidden>,
    /// What was proved of the settled levels.
    pub proof: Proof,
}

impl fmt::Debug for Withheld {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for Withheld {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (vacuous, hidden): (Vec<&super::Hidden>, Vec<&super::Hidden>) =
            self.hidden.iter().partition(|h| h.is_vacuous());
        let but = match (vacuous.is_empty(), hidden.is_empty()) {
            (true, _) => "settling hides something",
            (false, true) => "that says little",
            (false, false) => "that says little, and settling hides something",
        };
        writeln!(
            f,
            "Withheld: once settled, whatever the replacement `{}` shows the original `{}` could have shown, but {but}.",
            self.proof.replacement, self.proof.original
        )?;
        for h in vacuous.iter().chain(&hidden) {
            writeln!(f, "  {h}")?;
        }
        let names: std::collections::BTreeSet<_> = self.hidden.iter().map(|h| h.call.as_str()).collect();
        let calls: Vec<_> = names.iter().map(|n| format!(".acknowledging({n:?})")).collect();
        if !vacuous.is_empty() {
            writeln!(
                f,
                "  What nobody knows of the original lets the replacement do so: is anything forgotten in it, or is a reset \
                 missing in the trace?"
            )?;
        }
        let look = "Look at each with a scope or in the schematic: does anything count on a pulse or a delay there? If not, say so";
        let say = if hidden.is_empty() { "If it is meant so, say so" } else { look };
        write!(f, "  {say}: {}", calls.join(""))?;
        let can = |o: &Outcome| {
            hidden.iter().any(|h| matches!(h.why, super::hidden::Why::Order { rule, .. } if o.fits(rule)))
        };
        let ways = Outcome::ALL.iter().filter(|o| **o != Outcome::Either && can(o));
        let ways: Vec<String> = ways.map(|o| format!("`: {o}`")).collect();
        if ways.is_empty() {
            return Ok(());
        }
        write!(
            f,
            "\n  If it counts and you know which way it goes, say that at the end of the words too, {}: the proof then follows it",
            ways.join(" or ")
        )
    }
}

/// Neither proved nor refuted.
#[derive(Clone, Default)]
pub struct Undecided {
    /// The obligation that stayed open.
    pub obligation: String,
    /// What was tried, in order.
    pub tried: Vec<String>,
    /// Contacts about which everything is proved, where the pair falls into parts of which others stayed open.
    pub proved: Vec<String>,
    /// No run of up to this many events is one that nothing explains: all of them were searched.
    pub searched: Option<usize>,
    /// States of the replacement that a walk visited, each with the states in which the original may then be.
    pub visited: usize,
    /// What would help.
    pub help: String,
    /// What never comes to rest, if that is why.
    pub restless: Option<super::Oscillation>,
}

/// Why there is no proof.
#[derive(Clone)]
pub enum Failure {
    /// The replacement does something that the original never would.
    Refuted(Box<Refutation>),
    /// It could not be told.
    Undecided(Undecided),
    /// Proved of settled levels, but settling hides something that nobody has acknowledged.
    Withheld(Box<Withheld>),
    /// Proved only for the contacts that depend on nothing untraced, and the question was about the whole.
    InPart(Box<Proof>),
    /// The question itself makes no sense.
    Refused(Refusal),
}

impl Refutation {
    /// Both machines, with what is known of the order of changes.
    pub(crate) fn machines(&self) -> &[crate::machine::Machine; 2] {
        &self.run.pair.machines
    }
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
            Failure::Withheld(w) => w.fmt(f),
            Failure::InPart(proof) => {
                proof.fmt(f)?;
                write!(
                    f,
                    "\n  This is no proof for the whole: trace the rest, or ask for this part alone with `.in_part()`"
                )
            }
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
        if !self.proved.is_empty() {
            writeln!(f, "  proved all the same, of contacts by themselves: {}", self.proved.join(", "))?;
        }
        if let Some(events) = self.searched {
            writeln!(f, "  reached: no run of up to {events} events is a refutation")?;
        }
        if self.visited > 0 {
            writeln!(f, "  reached: {} states visited", self.visited)?;
        }
        write!(f, "  what would help: {}", self.help)
    }
}

impl fmt::Display for Refutation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.explain().text())
    }
}

impl fmt::Display for Proof {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_whole() {
            writeln!(
                f,
                "Proved{}: whatever the replacement `{}` shows at its contacts, the original `{}` could have shown.",
                self.by_typical(),
                self.replacement,
                self.original
            )?;
        } else {
            writeln!(
                f,
                "Proved in part{}: whatever the replacement `{}` shows at the contacts that are covered, the original `{}` \
                 could have shown.",
                self.by_typical(),
                self.replacement,
                self.original
            )?;
            for u in &self.untraced {
                writeln!(f, "  not traced: {u}")?;
            }
            for l in &self.left_out {
                writeln!(f, "  not covered: contact {l}")?;
            }
        }
        for a in &self.acknowledged {
            writeln!(f, "  acknowledged: `{a}`")?;
        }
        for a in &self.assumptions {
            writeln!(f, "  assuming {a}")?;
        }
        let walked = |places| {
            format!(
                "no bits correspond throughout: all states were visited, {places} of them with the original's states that \
                 show the same"
            )
        };
        match self.method {
            Method::Walk { places } if self.parts.is_empty() => writeln!(f, "  {}", walked(places))?,
            Method::Walk { .. } | Method::Induction => {}
        }
        for part in &self.parts {
            let contacts = if part.contacts.is_empty() { "no contact".to_owned() } else { part.contacts.join(", ") };
            let how = match part.method {
                Method::Induction => "by induction".to_owned(),
                Method::Walk { places } => walked(places),
            };
            writeln!(f, "  a part by itself, of {contacts}: {how}")?;
        }
        for m in &self.matches {
            writeln!(f, "  {m}")?;
        }
        for u in &self.unknowns {
            writeln!(f, "  unknown of the original, resolved in the replacement's favour: {u}")?;
        }
        for t in &self.typical {
            writeln!(f, "  {t}")?;
        }
        for finding in &self.findings {
            writeln!(f, "  finding: {finding}")?;
        }
        let g = &self.figures;
        write!(
            f,
            "  {}, {} to Z3 {}, {} to truth tables, {} closed by structure, {:.1} ms",
            counted(g.events, "kind of events", "kinds of events"),
            counted(g.questions, "question", "questions"),
            g.solver,
            g.tables,
            counted(g.structural, "case", "cases"),
            g.time.as_secs_f64() * 1e3
        )
    }
}

/// `1 question`, `2 questions`.
fn counted(count: usize, one: &str, several: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { several })
}
