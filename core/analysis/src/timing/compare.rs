//! Original and replacement side by side: slower, faster, within a budget or not.
use std::collections::HashMap;

use serde::Serialize;

use super::{At, Edge, Key, Kind, Row, Run, Time, Timing, Witness};
use crate::host::{Host, HostTime, Timed};

/// What the board can bear, where it differs from what the original needed.
///
/// Without a word about it, a time may be as long as the original's and no longer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Budget {
    limits: Vec<Limit>,
    holds: Vec<(String, f64)>,
    host: Vec<HostTime>,
}

#[derive(Clone, Debug, PartialEq)]
struct Limit {
    kind: Kind,
    from: Option<String>,
    to: Option<String>,
    ns: f64,
}

impl Budget {
    /// As the original.
    pub fn as_original() -> Self {
        Self::default()
    }

    /// Times of this kind may be up to `ns` long; `from` and `to` are labels of contacts, nothing stands for any. Of several
    /// that fit, the last one holds.
    #[must_use]
    pub fn at_most(mut self, kind: Kind, from: Option<&str>, to: Option<&str>, ns: f64) -> Self {
        let (from, to) = (from.map(str::to_owned), to.map(str::to_owned));
        self.limits.push(Limit { kind, from, to, ns });
        self
    }

    /// What the board clocks from this contact needs it steady for `ns` after the clock that also changes it.
    #[must_use]
    pub fn held(mut self, output: &str, ns: f64) -> Self {
        self.holds.push((output.to_owned(), ns));
        self
    }

    /// With the times that the board gives or bears. Where both say something, the shorter holds.
    #[must_use]
    pub fn with_host(mut self, host: &Host) -> Self {
        self.host.extend(host.times().iter().cloned());
        self
    }

    fn limit(&self, row: &Row) -> Option<f64> {
        let fits = |wanted: &Option<String>, at: &At| wanted.as_ref().is_none_or(|label| *label == at.label);
        let mut fitting =
            self.limits.iter().filter(|l| l.kind == row.kind && fits(&l.from, &row.from) && fits(&l.to, &row.to));
        fitting.next_back().map(|l| l.ns)
    }

    /// What the board says of a time: of several sayings the shortest.
    fn given(&self, row: &Row) -> Option<Given> {
        let is_any = |wanted: Option<Edge>, edge: Option<Edge>| wanted.is_none() || wanted == edge;
        let fits = |time: &&HostTime| {
            // of an output that follows, the board says first which contact it looks at
            let (at, to) = match time.what {
                Timed::Waits => ((&row.to, row.to_edge), (&row.from, row.from_edge)),
                _ => ((&row.from, row.from_edge), (&row.to, row.to_edge)),
            };
            time.what.kinds().contains(&row.kind)
                && time.at == *at.0
                && is_any(time.change, at.1)
                && time.to.as_ref().is_none_or(|contact| contact == to.0)
                && is_any(time.its_change, to.1)
        };
        let shortest = self.host.iter().filter(fits).min_by(|a, b| a.ns.total_cmp(&b.ns))?;
        Some(Given { ns: shortest.ns, known_from: shortest.known_from.to_string() })
    }

    /// How long after the change of `from` that also changes it `to` must be steady: the longest that anybody says.
    fn hold_at(&self, row: &Compared) -> Option<f64> {
        let stated = self.holds.iter().rev().find(|(label, _)| *label == row.to.label).map(|&(_, ns)| ns);
        let needed = self.host.iter().filter(|time| {
            time.what == Timed::NeedsAfter
                && time.at == row.to
                && time.to.as_ref() == Some(&row.from)
                && (time.its_change.is_none() || row.from_edge.is_none() || time.its_change == row.from_edge)
        });
        needed.map(|time| time.ns).chain(stated).reduce(f64::max)
    }
}

/// A time that the board gives or bears, and where that is known from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Given {
    /// ns.
    pub ns: f64,
    /// Where it is known from.
    pub known_from: String,
}

/// What is to be said of a pair of times.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Judgement {
    /// No longer than the original's, or than the budget.
    Within,
    /// Longer than the budget, by this many ns.
    Over(f64),
    /// A figure is missing, so that nobody can tell.
    Unknown,
    /// Only one side has such a path, and the budget says nothing about it.
    OneSided,
}

/// A time of both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// What it is.
    pub kind: Kind,
    /// The contact that changes, or must be steady.
    pub from: At,
    /// Its change, as in [`Row`].
    pub from_edge: Option<Edge>,
    /// The contact that follows, or the clock.
    pub to: At,
    /// Its change, as in [`Row`].
    pub to_edge: Option<Edge>,
    /// Of the original, if any state lets it happen.
    pub original: Option<Time>,
    /// The run that shows the original's time, among [`Comparison::runs`].
    pub witness: Option<Witness>,
    /// Of the replacement, if it has such a path.
    pub replacement: Option<Time>,
    /// What the replacement takes at least, in ns, if a sheet says so.
    pub least: Option<f64>,
    /// The longest that it may be, in ns: what the board gives, the budget, or else the original's.
    pub limit: Option<f64>,
    /// What the board gives, if that is known.
    pub given: Option<Given>,
    /// How the replacement stands.
    pub judgement: Judgement,
}

impl Compared {
    /// What is to spare, in ns; below nought if the replacement takes longer than it may.
    pub fn margin(&self) -> Option<f64> {
        Some(self.limit? - self.replacement.as_ref().filter(|t| t.is_complete())?.ns)
    }

    /// How much longer the replacement's time is, in ns; negative if it is shorter.
    pub fn slower_by(&self) -> Option<f64> {
        Some(self.replacement.as_ref()?.ns - self.original.as_ref().filter(|t| t.is_known())?.ns)
    }
}

/// An output that may change earlier than it did.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Early {
    /// What changes it.
    pub from: At,
    /// The output.
    pub to: At,
    /// How the two are joined.
    pub kind: Kind,
    /// What the original took at most, in ns.
    pub original_ns: f64,
    /// What the replacement takes at most, in ns.
    pub replacement_ns: f64,
    /// What it takes at least, in ns, if a sheet says so.
    pub least_ns: Option<f64>,
    /// How long the board needs the output steady, if that is known.
    pub hold_ns: Option<f64>,
    /// True if even the longest delay is shorter than that.
    pub is_violated: bool,
}

impl Early {
    /// Whether the output is steady for as long as the board needs it: known only if that is known, and the shortest delay or
    /// the longest decides.
    pub fn is_held(&self) -> Option<bool> {
        let hold = self.hold_ns?;
        match self.least_ns {
            _ if self.is_violated => Some(false),
            Some(least) if least + TOLERANCE >= hold => Some(true),
            _ => None,
        }
    }
}

/// Both sides' times, beside each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// Whose times stand first.
    pub original: String,
    /// Whose times stand second.
    pub replacement: String,
    /// Every time that one of them has.
    pub rows: Vec<Compared>,
    /// Outputs that may change earlier than they did.
    pub early: Vec<Early>,
    /// The runs that show the original's times.
    pub runs: Vec<Run>,
    /// What a reader must know about the sums of either side.
    pub notes: Vec<String>,
    /// Why one side has no times, if it has none.
    pub gap: Option<String>,
}

impl Comparison {
    /// Rows that stand in the way of putting the replacement into the board.
    pub fn over(&self) -> impl Iterator<Item = &Compared> {
        self.rows.iter().filter(|r| matches!(r.judgement, Judgement::Over(_)))
    }

    /// Whether all times are known to be within the budget, and no hold time is known to be violated.
    pub fn is_safe(&self) -> bool {
        self.gap.is_none()
            && self.rows.iter().all(|r| matches!(r.judgement, Judgement::Within | Judgement::OneSided))
            && !self.early.iter().any(|e| e.is_violated)
    }
}

fn by_key(rows: &[Row]) -> HashMap<Key<'_>, &Row> {
    rows.iter().map(|row| (row.key(), row)).collect()
}

/// Puts the times of both sides beside each other.
pub fn compare(original: &Timing, replacement: &Timing, budget: &Budget) -> Comparison {
    let (own, on_demand, before) = (by_key(&replacement.rows), by_key(&replacement.on_demand), by_key(&original.rows));
    let counterpart = |row: &Row| own.get(&row.key()).or_else(|| on_demand.get(&row.key())).copied();
    let mut rows: Vec<Compared> =
        original.rows.iter().map(|row| compared(row, Some(row), counterpart(row), budget)).collect();
    let new = replacement.rows.iter().filter(|r| !before.contains_key(&r.key()));
    // one contact has one name, that of the original
    let names: HashMap<&str, &str> =
        original.rows.iter().flat_map(|r| [&r.from, &r.to]).map(|at| (at.label.as_str(), at.name.as_str())).collect();
    let named = |mut row: Compared| {
        for at in [&mut row.from, &mut row.to] {
            if let Some(name) = names.get(at.label.as_str()) {
                at.name = (*name).to_owned();
            }
        }
        row
    };
    rows.extend(new.map(|row| named(compared(row, None, Some(row), budget))));
    let place = |row: &Compared| (row.kind, row.from.clone(), row.to.clone(), row.from_edge, row.to_edge);
    rows.sort_by_cached_key(place);
    let early = rows.iter().filter_map(|row| early(row, budget.hold_at(row))).collect();
    let notes = [original, replacement].into_iter().flat_map(|t| t.notes.iter().map(|n| format!("{}: {n}", t.of)));
    Comparison {
        original: original.of.clone(),
        replacement: replacement.of.clone(),
        rows,
        early,
        runs: original.runs.clone(),
        notes: notes.collect(),
        gap: original.gap.clone().or_else(|| replacement.gap.clone()),
    }
}

fn compared(key: &Row, original: Option<&Row>, replacement: Option<&Row>, budget: &Budget) -> Compared {
    let witness = original.and_then(|r| r.witness);
    let least = replacement.and_then(|r| r.least);
    let (original, replacement) = (original.map(|r| r.time.clone()), replacement.map(|r| r.time.clone()));
    let given = budget.given(key);
    let stated = budget.limit(key).into_iter().chain(given.iter().map(|g| g.ns)).reduce(f64::min);
    let limit = stated.or_else(|| original.as_ref().map(|t| t.ns));
    let sure = stated.is_some() || original.as_ref().is_some_and(Time::is_complete);
    let judgement = match (&replacement, limit) {
        (None, _) | (_, None) => Judgement::OneSided,
        // what is known alone is too long already
        (Some(time), Some(limit)) if sure && time.ns > limit + TOLERANCE => Judgement::Over(time.ns - limit),
        (Some(time), Some(limit)) if time.is_complete() && time.ns <= limit + TOLERANCE => Judgement::Within,
        _ => Judgement::Unknown,
    };
    let (kind, from, to) = (key.kind, key.from.clone(), key.to.clone());
    let (from_edge, to_edge) = (key.from_edge, key.to_edge);
    Compared { kind, from, from_edge, to, to_edge, original, witness, replacement, least, limit, given, judgement }
}

/// Sums of printed figures are exact to far less than this, in ns.
const TOLERANCE: f64 = 1e-6;

fn early(row: &Compared, hold_ns: Option<f64>) -> Option<Early> {
    if !matches!(row.kind, Kind::Propagation | Kind::ClockToOutput | Kind::Enable | Kind::Disable) {
        return None;
    }
    let (original, replacement) = (row.original.as_ref()?, row.replacement.as_ref()?);
    let is_violated = hold_ns.is_some_and(|hold| replacement.is_complete() && replacement.ns < hold);
    (hold_ns.is_some() || replacement.ns + TOLERANCE < original.ns).then(|| Early {
        from: row.from.clone(),
        to: row.to.clone(),
        kind: row.kind,
        original_ns: original.ns,
        replacement_ns: replacement.ns,
        least_ns: row.least,
        hold_ns,
        is_violated,
    })
}
