//! How many registers a change has passed when it reaches a signal, by structure alone.
use std::collections::HashMap;

use super::dependencies::{Signal, What};
use super::moving::Moving;
use crate::circuit::NetId;

/// The least and the greatest number of registers on the ways of one kind of event to each signal that it moves. A
/// signal in a loop has none.
pub(crate) struct Stages {
    of: HashMap<Signal, (u32, u32)>,
}

impl Moving {
    /// The stages of all that moves.
    pub(crate) fn stages(&self) -> Stages {
        let mut along = self.order.clone();
        along.sort_by_key(|&s| self.component_of(s));
        let mut of: HashMap<Signal, (u32, u32)> = HashMap::new();
        for s in along.into_iter().filter(|&s| self.round(s).is_none()) {
            let root = self.roots.contains(&s).then_some((0, 0));
            let movers = self.movers(self.ways.acting.get(s.index()).map_or(&[][..], Vec::as_slice));
            let known: Option<Vec<(u32, u32)>> = movers.iter().map(|m| of.get(m).copied()).collect();
            let Some(known) = known else { continue };
            let passes = u32::from(matches!(self.ways.what(s), What::Element(_)) && self.ways.is_register(s));
            let all = || known.iter().copied().chain(root);
            if let Some((least, most)) = all().map(|k| k.0).min().zip(all().map(|k| k.1).max()) {
                of.insert(s, (least + passes, most + passes));
            }
        }
        Stages { of }
    }

    /// The stages of a net; nothing if it does not move, or if that can't be told.
    pub(crate) fn stage(&self, stages: &Stages, net: NetId) -> Option<(u32, u32)> {
        stages.of.get(&self.ways.of_net(net)).copied()
    }
}
