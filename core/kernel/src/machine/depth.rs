//! How many registers act one after the other in one event, by structure.
use super::{Gate, Machine, gates};
use crate::graph::Graph;

impl Machine {
    /// The registers of the longest chain in which each is clocked, cleared or preset by what the one before holds: a ripple
    /// counter has as many as it has bits. Registers that act on each other count once each.
    pub(crate) fn depth(&self) -> usize {
        let acting = |gate: Gate| match gate {
            Gate::Cell(c) => self.cells[c as usize].feed.acting(),
            gate => gates::operands(gate).collect(),
        };
        let graph = Graph::new(self.gates.iter().map(|&g| acting(g).into_iter().map(super::NodeId::index)));
        let is_register = |n: &&usize| matches!(self.gates[**n], Gate::Cell(c) if self.cells[c as usize].is_register);
        let mut depth = vec![0; self.gates.len()];
        // a component comes after all that acts on it
        for component in graph.components() {
            let below = component.iter().flat_map(|&n| graph.successors(n)).map(|&n| depth[n]).max().unwrap_or(0);
            let own = component.iter().filter(is_register).count();
            component.iter().for_each(|&n| depth[n] = below + own);
        }
        depth.into_iter().max().unwrap_or(0)
    }
}
