//! Doubts that a machine follows both ways, by kind of event: data beside it.
use std::collections::BTreeSet;
use std::sync::Arc;

use super::{Doubt, Moving, Rule, Site, Ways};

/// One kind of event with what is open in it.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    ports: Vec<usize>,
    pub(crate) moving: Moving,
    pub(crate) doubts: Vec<Doubt>,
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
    pub(crate) fn new(ways: &Arc<Ways>, kinds: impl IntoIterator<Item = (Vec<usize>, Vec<Doubt>)>) -> Self {
        let mut opened = Opened::default();
        for (mut ports, mut doubts) in kinds {
            doubts.retain(|d| d.cell().is_some());
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

    /// What is open when these ports change.
    pub(crate) fn of(&self, ports: impl Iterator<Item = usize>) -> Option<&Kind> {
        if self.kinds.is_empty() {
            return None;
        }
        let ports: BTreeSet<usize> = ports.collect();
        self.kinds.iter().find(|k| k.ports.iter().eq(&ports))
    }

    /// Whether a cell is open in some kind of event.
    pub(crate) fn has(&self, cell: usize) -> bool {
        self.kinds.iter().flat_map(|k| &k.doubts).any(|d| d.cell() == Some(cell))
    }
}
