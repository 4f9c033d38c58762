//! Which order doubts the machine follows in each kind of event: both outcomes, or the one that is known. Data only.
use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Serialize;

use super::{Doubt, Moving, Rule, Site, Ways};

/// Which way something turns out that the order of changes leaves open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// The register or latch takes what its data were before the event; an edge against a release does not count.
    Old,
    /// It takes the data that the event brings; an edge against a release counts.
    New,
    /// A pulse comes, and acts.
    Pulse,
    /// No pulse comes that acts.
    NoPulse,
    /// One or the other, as it may.
    Either,
}

impl Outcome {
    /// All of them.
    pub const ALL: [Outcome; 5] = [Outcome::Old, Outcome::New, Outcome::Pulse, Outcome::NoPulse, Outcome::Either];

    /// Whether a doubt of this rule can turn out so.
    pub fn fits(self, rule: Rule) -> bool {
        match self {
            Outcome::Either => true,
            Outcome::Old | Outcome::New => matches!(rule, Rule::Race | Rule::Recovery),
            Outcome::Pulse | Outcome::NoPulse => matches!(rule, Rule::Pulse(_)),
        }
    }
}

impl std::fmt::Display for Outcome {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Outcome::Old => "old",
            Outcome::New => "new",
            Outcome::Pulse => "pulse",
            Outcome::NoPulse => "no pulse",
            Outcome::Either => "either",
        })
    }
}

/// One kind of event with what is open in it.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    ports: Vec<usize>,
    pub(crate) moving: Moving,
    pub(crate) doubts: Vec<(Doubt, Outcome)>,
}

/// All kinds of event in which something is open.
#[derive(Clone, Debug, Default)]
pub(crate) struct Opened {
    kinds: Vec<Kind>,
}

impl Doubt {
    /// The register or latch whose outcome can be followed both ways.
    pub(crate) fn cell(&self) -> Option<usize> {
        match (self.site, self.rule) {
            (Site::Element(e), Rule::Race | Rule::Recovery | Rule::Pulse(_)) => Some(e.index()),
            _ => None,
        }
    }
}

impl Opened {
    /// These doubts, by the ports that change. What can't be followed is left out.
    pub(crate) fn new(ways: &Arc<Ways>, kinds: impl IntoIterator<Item = (Vec<usize>, Vec<(Doubt, Outcome)>)>) -> Self {
        let mut opened = Opened::default();
        for (mut ports, mut doubts) in kinds {
            doubts.retain(|(d, _)| d.cell().is_some());
            if doubts.is_empty() {
                continue;
            }
            let moving = Moving::of(ways, &ports);
            ports.sort_unstable();
            ports.dedup();
            opened.kinds.push(Kind { ports, moving, doubts });
        }
        opened
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.kinds.is_empty()
    }

    /// What is open when these ports change: all of a kind, or those of a group that do.
    pub(crate) fn of(&self, ports: impl Iterator<Item = usize>) -> Option<&Kind> {
        if self.kinds.is_empty() {
            return None;
        }
        let ports: BTreeSet<usize> = ports.collect();
        let may = |k: &&Kind| ports.iter().all(|p| k.ports.binary_search(p).is_ok());
        self.kinds.iter().filter(may).min_by_key(|k| k.ports.len()).filter(|_| !ports.is_empty())
    }

    /// Whether a cell may take either level in some kind of event.
    pub(crate) fn has(&self, cell: usize) -> bool {
        let either = |d: &(Doubt, Outcome)| d.1 == Outcome::Either && d.0.cell() == Some(cell);
        self.kinds.iter().flat_map(|k| &k.doubts).any(either)
    }

    /// Whether anything may go either way.
    pub(crate) fn has_either(&self) -> bool {
        self.kinds.iter().flat_map(|k| &k.doubts).any(|d| d.1 == Outcome::Either)
    }
}
