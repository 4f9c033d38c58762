//! The slowest speed grade that is safe: it is the cheapest, and it rings least on old wiring.
use std::collections::BTreeSet;

use serde::Serialize;

use super::{At, Budget, Compared, Comparison, Early, Edge, Judgement, Timing, compare, replacement, spans};
use crate::host::Timed;
use gluewright_devices::device::Device;
use gluewright_devices::fit::Fitted;

/// A type of device in one of its speed grades.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TypeGrade {
    /// The type.
    pub device: &'static str,
    /// The grade.
    pub grade: &'static str,
}

/// How one grade does, or one choice of grades where several types stand side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Graded {
    /// The grade's name.
    pub name: String,
    /// Each type with its grade: one, or as many as stand side by side.
    #[serde(skip)]
    pub of: Vec<TypeGrade>,
    /// From an input to a combinational output, at most, in ns.
    pub propagation_ns: Option<f64>,
    /// Whether every time is known to be within the budget.
    pub is_safe: bool,
    /// What stands against it, in words.
    pub why: Vec<String>,
    /// The comparison itself.
    #[serde(skip)]
    pub comparison: Comparison,
}

impl Graded {
    pub(super) fn new(name: String, of: Vec<TypeGrade>, propagation_ns: Option<f64>, comparison: Comparison) -> Graded {
        Graded { name, of, propagation_ns, is_safe: comparison.is_safe(), why: against(&comparison), comparison }
    }

    /// Whether something is known to stand against it, beyond what is merely not known.
    pub fn exceeds(&self) -> bool {
        let c = &self.comparison;
        c.gap.is_some() || c.over().next().is_some() || c.early.iter().any(|e| e.is_violated)
    }
}

/// All grades of a device, and the one to take.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GradeChoice {
    /// The grades, the slowest first; those whose delay is not known come last.
    pub grades: Vec<Graded>,
    /// The place in `grades` of the slowest that is safe.
    pub chosen: Option<usize>,
}

impl GradeChoice {
    /// The slowest first, and the slowest that is safe.
    pub(super) fn of(mut grades: Vec<Graded>) -> GradeChoice {
        grades.sort_by(|a, b| {
            let ns = |g: &Graded| g.propagation_ns.unwrap_or(f64::NEG_INFINITY);
            ns(b).total_cmp(&ns(a))
        });
        let chosen = grades.iter().position(|g| g.is_safe);
        GradeChoice { grades, chosen }
    }

    /// The choice among the grades that are there, each of its type. If there is none of them, nothing changes.
    #[must_use]
    pub fn among(self, is_there: impl Fn(&TypeGrade) -> bool) -> GradeChoice {
        let all_there = |g: &Graded| g.of.iter().all(&is_there);
        if !self.grades.iter().any(all_there) {
            return self;
        }
        GradeChoice::of(self.grades.into_iter().filter(all_there).collect())
    }

    /// What grades slower than the chosen one exceed most; of all grades, if none is safe. One line a grade.
    pub fn exceeding_words(&self) -> Vec<String> {
        let slower = self.grades.iter().take(self.chosen.unwrap_or(self.grades.len()));
        slower.filter(|g| g.exceeds()).map(|g| format!("{}: {}", g.name, worst(&g.comparison))).collect()
    }

    /// What the host must give or bear where the nearest grade is not known to be safe: one line for what differs in its
    /// contacts only, in the words of a host file.
    pub fn demands(&self) -> Vec<String> {
        let Some(grade) = self.best().filter(|g| !g.is_safe) else { return Vec::new() };
        demands(&grade.comparison)
    }

    /// The slowest grade that is safe.
    pub fn chosen(&self) -> Option<&Graded> {
        self.chosen.and_then(|at| self.grades.get(at))
    }

    /// Grades slower than the chosen one that exceed nothing, as far as their figures are known: a look into their sheets may
    /// show them safe.
    pub fn slower_but_open(&self) -> Vec<&Graded> {
        let slower = self.grades.iter().take(self.chosen.unwrap_or(self.grades.len()));
        slower.filter(|g| !g.exceeds()).collect()
    }

    /// What to say of [those](GradeChoice::slower_but_open), if there are any.
    pub fn open_words(&self) -> Option<String> {
        let said = |grade: &&Graded| {
            let unknown: Vec<_> = grade.comparison.rows.iter().filter(|r| r.judgement == Judgement::Unknown).collect();
            let own = unknown.iter().filter_map(|r| r.replacement.as_ref()).flat_map(|t| &t.missing);
            let mut missing: Vec<String> = own.map(|m| m.trim_end_matches(" in this grade").to_owned()).collect();
            // a time of the original is at least what is known of it: that may be too little to bear this grade
            let before = unknown.iter().filter_map(|r| r.original.as_ref()).flat_map(|t| &t.missing);
            missing.extend(before.map(|m| format!("{m} of the original")));
            missing.sort_unstable();
            missing.dedup();
            let more = missing.len().saturating_sub(MOST_MISSING);
            missing.truncate(MOST_MISSING);
            match (missing.is_empty(), more) {
                (true, _) => grade.name.clone(),
                (false, 0) => format!("{} ({})", grade.name, missing.join(", ")),
                (false, n) => format!("{} ({} and {n} more)", grade.name, missing.join(", ")),
            }
        };
        let open: Vec<String> = self.slower_but_open().iter().map(said).collect();
        (!open.is_empty()).then(|| {
            format!("Grades of which nobody can tell by the sheets, since figures are missing: {}", open.join("; "))
        })
    }

    /// The chosen grade; if none is safe, the one with the fewest things against it.
    pub fn best(&self) -> Option<&Graded> {
        self.chosen().or_else(|| self.grades.iter().min_by_key(|g| g.why.len()))
    }
}

/// More missing figures of a grade than this are not named.
const MOST_MISSING: usize = 2;

/// Compares the original with every grade of the device.
pub fn choose_grade(original: &Timing, fitted: &Fitted, device: &Device, budget: &Budget) -> GradeChoice {
    let graded = device.grades.iter().map(|grade| {
        let comparison = compare(original, &replacement(fitted, device, grade), budget);
        let of = vec![TypeGrade { device: device.name, grade: grade.name }];
        Graded::new(grade.name.to_owned(), of, grade.propagation.map(|f| f.value), comparison)
    });
    GradeChoice::of(graded.collect())
}

/// What the board must give where a time is too long, or where nobody knows how long it may be.
fn demands(comparison: &Comparison) -> Vec<String> {
    /// Contacts and what they do, with the longest time that is asked for.
    type Asked<'c> = (Timed, BTreeSet<&'c At>, Option<&'c At>, Option<Edge>, f64);
    let mut all: Vec<Asked<'_>> = Vec::new();
    let asked = |row: &&Compared| matches!(row.judgement, Judgement::Over(_) | Judgement::Unknown);
    for row in comparison.rows.iter().filter(asked) {
        let Some(time) = row.replacement.as_ref().filter(|time| time.is_complete()) else { continue };
        let what = Timed::of(row.kind);
        let (at, to, edge) = match what {
            Timed::Waits => (&row.to, Some(&row.from), row.from_edge),
            timed if timed.has_edge() => (&row.from, Some(&row.to), row.to_edge),
            _ => (&row.from, None, None),
        };
        match all.iter_mut().find(|(w, _, t, e, _)| (*w, *t, *e) == (what, to, edge)) {
            Some((_, contacts, .., ns)) => {
                contacts.insert(at);
                *ns = ns.max(time.ns);
            }
            None => all.push((what, BTreeSet::from([at]), to, edge, time.ns)),
        }
    }
    let words = all.into_iter().map(|(what, contacts, to, edge, ns)| {
        let contacts = spans(&contacts.into_iter().collect::<Vec<_>>());
        let edge = edge.map_or_else(String::new, |edge| format!(" {edge}"));
        let to = to.map_or_else(String::new, |to| format!(" {to}{edge}"));
        let how = match what {
            Timed::StableBefore => format!("steady {ns:.1} ns before{to}"),
            Timed::StableAfter => format!("steady {ns:.1} ns after{to}"),
            Timed::Waits | Timed::NeedsAfter => format!("looked at no sooner than {ns:.1} ns after{to}"),
            Timed::Period => format!("a period of {ns:.1} ns"),
            Timed::High => format!("high for {ns:.1} ns"),
            Timed::Low => format!("low for {ns:.1} ns"),
        };
        format!("{contacts}: {how} (`{}`)", what.word())
    });
    words.collect()
}

/// What stands against a replacement.
fn against(comparison: &Comparison) -> Vec<String> {
    let mut why: Vec<String> = comparison
        .rows
        .iter()
        .filter_map(|row| match row.judgement {
            Judgement::Over(by) => Some(too_long(row, by)),
            Judgement::Unknown => {
                let times = row.replacement.iter().chain(&row.original);
                let missing = times.flat_map(|t| &t.missing).next().map_or("a figure is not known", String::as_str);
                Some(format!("{} from {} to {}: {missing}", row.kind, row.from, row.to))
            }
            Judgement::Within | Judgement::OneSided => None,
        })
        .collect();
    why.extend(comparison.gap.clone());
    why.extend(comparison.early.iter().filter(|e| e.is_violated).map(too_early));
    why
}

/// What stands against a replacement most, and how much else does, beyond what is merely not known.
fn worst(comparison: &Comparison) -> String {
    let over = comparison.rows.iter().filter_map(|row| match row.judgement {
        Judgement::Over(by) => Some((row, by)),
        _ => None,
    });
    let longest = over.clone().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(row, by)| too_long(row, by));
    let early = comparison.early.iter().filter(|e| e.is_violated);
    let others = (over.count() + early.clone().count()).saturating_sub(1);
    let first = comparison.gap.clone().or(longest).or_else(|| early.clone().next().map(too_early));
    let more = if others > 0 && comparison.gap.is_none() { format!("; {others} more") } else { String::new() };
    format!("{}{more}", first.unwrap_or_default())
}

fn too_long(row: &Compared, by: f64) -> String {
    format!("{} from {} to {} is {by:.1} ns too long", row.kind, row.from, row.to)
}

fn too_early(early: &Early) -> String {
    let hold = early.hold_ns.unwrap_or_default();
    format!(
        "{} changes at most {:.1} ns after {}, and must be held {hold:.1} ns",
        early.to, early.replacement_ns, early.from
    )
}
