//! Where a difference rests on what nobody knows of the replacement: which register or net, at which step, and why.
use serde::Serialize;

use crate::circuit::Label;
use crate::machine::{Freedom, Limits, Symbolic, Unknown};
use crate::prove::{Difference, Refutation};
use crate::terms::{Term, Terms};

use super::replay::Track;

/// Something of the replacement whose outcome nobody knows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Chance {
    /// The step, from 1; 0 is power-up.
    pub step: usize,
    /// The register, latch or net.
    pub name: String,
    /// Why nobody knows.
    pub why: &'static str,
}

/// Whether the replacement shows this by what unknowns usually become.
pub(super) fn is_usual(d: &Difference, replacement: &Track, last: usize) -> bool {
    let seen: Vec<_> = replacement.sequence(&d.label, last).into_iter().map(|s| s.0).collect();
    seen == d.replacement
}

/// The unknowns of the run, if what differs rests on them.
pub(super) fn chances(
    of: &Refutation,
    replacement: &Track,
    levels: &[(Label, bool)],
    events: &[Vec<(Label, bool)>],
) -> Vec<Chance> {
    if of.differences.iter().all(|d| is_usual(d, replacement, of.events.len())) {
        return Vec::new();
    }
    let machine = &replacement.machine;
    let limits = Limits::ample(machine);
    let mut terms = Terms::new();
    let mut algebra = Symbolic::new(&mut terms, Freedom::Usual);
    let outside = machine.outside_by_label(levels, Term::constant);
    let cells: Vec<Term> = of.evidence.starts[1].iter().map(|&b| Term::constant(b)).collect();
    let mut now = machine.power_up(&mut algebra, &outside, &cells, limits).point;
    let mut all = Vec::new();
    let mut told = |step: usize, met: Vec<(Unknown, Term, Term)>| {
        for (site, when, _) in met {
            let (name, why) = words(replacement, site);
            let chance = Chance { step, name, why };
            if when == Term::TRUE && !all.contains(&chance) {
                all.push(chance);
            }
        }
    };
    told(0, std::mem::take(&mut algebra.met));
    for (k, event) in events.iter().enumerate() {
        let change = machine.event_by_label(event, Term::constant);
        now = machine.step(&mut algebra, &now, &change, limits).point;
        told(k + 1, std::mem::take(&mut algebra.met));
    }
    all
}

fn words(of: &Track, site: Unknown) -> (String, &'static str) {
    let cell = |c: u32| of.machine.cells().get(c as usize).map_or_else(String::new, |c| c.name.clone());
    match site {
        Unknown::JointRelease(c) => (cell(c), "its clear and preset are released together"),
        Unknown::Recovery(c) => (cell(c), "its clear or preset is released together with its clock's edge"),
        Unknown::Race(c) => (cell(c), "its data change together with its clock's edge"),
        Unknown::Load(c) => (cell(c), "its data sheet does not say what it loads there"),
        Unknown::Loop(c) => (cell(c), "gates that feed back on themselves race there"),
        Unknown::Order(c) => (cell(c), "delays decide what it takes"),
        Unknown::Floating(n) => {
            let name = of.circuit.nets().get(n as usize).map_or_else(String::new, |n| n.name.clone());
            (name, "nothing drives it")
        }
    }
}

impl std::fmt::Display for Chance {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let at = if self.step == 0 { "power-up".to_owned() } else { format!("step {}", self.step) };
        write!(f, "`{}` may be high or low from {at} on: {}", self.name, self.why)
    }
}
