//! The gates of a machine while it is made: each once, constants folded, operands before what uses them.
use std::collections::HashMap;

use super::{Gate, NodeId};
use crate::graph::Graph;

pub(super) const LOW: NodeId = NodeId(0);
pub(super) const HIGH: NodeId = NodeId(1);

/// The gates so far.
pub(super) struct Gates {
    pub(super) all: Vec<Gate>,
    index: HashMap<Gate, NodeId>,
}

impl Gates {
    /// The two rails, and nothing else.
    pub(super) fn new() -> Self {
        let mut gates = Gates { all: Vec::new(), index: HashMap::new() };
        gates.gate(Gate::Constant(false));
        gates.gate(Gate::Constant(true));
        gates
    }

    pub(super) fn gate(&mut self, gate: Gate) -> NodeId {
        if let Some(&n) = self.index.get(&gate) {
            return n;
        }
        let n = NodeId(self.all.len() as u32);
        self.all.push(gate);
        self.index.insert(gate, n);
        n
    }

    pub(super) fn not(&mut self, a: NodeId) -> NodeId {
        match self.all[a.index()] {
            Gate::Constant(v) => {
                if v {
                    LOW
                } else {
                    HIGH
                }
            }
            Gate::Not(inner) => inner,
            _ => self.gate(Gate::Not(a)),
        }
    }

    /// The level of a net that must be told from the gate behind it, and from other nets.
    pub(super) fn wire(&mut self, net: u32, level: NodeId) -> NodeId {
        match self.all[level.index()] {
            Gate::Constant(_) => level,
            _ => self.gate(Gate::Wire(net, level)),
        }
    }

    pub(super) fn and(&mut self, a: NodeId, b: NodeId) -> NodeId {
        match (a.min(b), a.max(b)) {
            (LOW, _) => LOW,
            (HIGH, x) => x,
            (x, y) if x == y => x,
            (x, y) => self.gate(Gate::And(x, y)),
        }
    }

    pub(super) fn or(&mut self, a: NodeId, b: NodeId) -> NodeId {
        match (a.min(b), a.max(b)) {
            (HIGH, _) | (_, HIGH) => HIGH,
            (LOW, x) => x,
            (x, y) if x == y => x,
            (x, y) => self.gate(Gate::Or(x, y)),
        }
    }

    pub(super) fn xor(&mut self, a: NodeId, b: NodeId) -> NodeId {
        match (a.min(b), a.max(b)) {
            (LOW, x) => x,
            (HIGH, x) => self.not(x),
            (x, y) if x == y => LOW,
            (x, y) => self.gate(Gate::Xor(x, y)),
        }
    }

    pub(super) fn choose(&mut self, when: NodeId, then: NodeId, otherwise: NodeId) -> NodeId {
        match when {
            HIGH => then,
            LOW => otherwise,
            _ if then == otherwise => then,
            _ => self.gate(Gate::Choose(when, then, otherwise)),
        }
    }
}

/// The operands of a gate; a source has none.
pub(super) fn operands(gate: Gate) -> impl Iterator<Item = NodeId> + Clone {
    let all = match gate {
        Gate::Not(a) | Gate::Wire(_, a) => [Some(a), None, None],
        Gate::And(a, b) | Gate::Or(a, b) | Gate::Xor(a, b) => [Some(a), Some(b), None],
        Gate::Choose(a, b, c) => [Some(a), Some(b), Some(c)],
        Gate::Constant(_) | Gate::Outside(_) | Gate::Cell(_) | Gate::Floating(_) => [None; 3],
    };
    all.into_iter().flatten()
}

/// The gates with their operands as a graph.
pub(super) fn graph(gates: &[Gate]) -> Graph {
    Graph::new(gates.iter().map(|&gate| operands(gate).map(NodeId::index)))
}
