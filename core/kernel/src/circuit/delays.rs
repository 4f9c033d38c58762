//! How long outputs take and how long inputs must be steady: figures beside the circuit, by which orders are judged.
use std::collections::BTreeMap;

use super::{ElementId, NetId};

/// The sheet's longest delays between two nets, in ns: the least and the greatest of all rows that apply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// The least of the longest delays.
    pub least: f64,
    /// The greatest.
    pub most: f64,
}

impl Span {
    /// The span of one figure.
    pub fn of(ns: f64) -> Span {
        Span { least: ns, most: ns }
    }

    /// What holds both.
    #[must_use]
    pub fn join(self, other: Span) -> Span {
        Span { least: self.least.min(other.least), most: self.most.max(other.most) }
    }

    /// One after the other.
    #[must_use]
    pub fn then(self, other: Span) -> Span {
        Span { least: self.least + other.least, most: self.most + other.most }
    }
}

/// How long the data of a register or latch must be steady, in ns: the greatest figures that apply; nothing where the
/// sheet gives none.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Steady {
    /// Before the edge, or the closing.
    pub setup: Option<f64>,
    /// After it.
    pub hold: Option<f64>,
}

/// The figures of one circuit. What has none is not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Delays {
    outputs: BTreeMap<(NetId, Option<NetId>), Span>,
    steady: BTreeMap<ElementId, Steady>,
}

impl Delays {
    /// Says how long an output takes on this net, from a net that its package reads, or from what the package stores.
    pub fn output(&mut self, to: NetId, from: Option<NetId>, span: Span) {
        let known = self.outputs.entry((to, from)).or_insert(span);
        *known = known.join(span);
    }

    /// Says how long the data of a register or latch must be steady.
    pub fn steady(&mut self, element: ElementId, steady: Steady) {
        self.steady.insert(element, steady);
    }

    /// How long a net takes behind another, or behind what is stored in the package that drives it.
    pub(crate) fn between(&self, from: Option<NetId>, to: NetId) -> Option<Span> {
        self.outputs.get(&(to, from)).or_else(|| self.outputs.get(&(to, None))).copied()
    }

    /// How long the data of an element must be steady.
    pub(crate) fn steady_of(&self, element: ElementId) -> Steady {
        self.steady.get(&element).copied().unwrap_or_default()
    }

    /// The same where nets and elements have other places.
    pub(super) fn moved(
        &self,
        net: impl Fn(NetId) -> Option<NetId>,
        element: impl Fn(ElementId) -> Option<ElementId>,
    ) -> Delays {
        let outputs = self.outputs.iter().filter_map(|(&(to, from), &span)| {
            let from = match from {
                Some(from) => Some(net(from)?),
                None => None,
            };
            Some(((net(to)?, from), span))
        });
        let steady = self.steady.iter().filter_map(|(&e, &steady)| Some((element(e)?, steady)));
        Delays { outputs: outputs.collect(), steady: steady.collect() }
    }
}
