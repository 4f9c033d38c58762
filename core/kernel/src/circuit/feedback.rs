//! Feedback loops: nets, latches and registers that act on themselves with nobody outside moving.
use super::{Circuit, Cone, Kind, Vertex};
use crate::graph::Graph;

/// What the way back to itself may lead through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Through {
    /// Gates alone.
    Gates,
    /// Gates and latches, which follow at once while they are open.
    Latches,
    /// Latches too, and the clocks, clears and presets of registers: all that acts without anybody outside.
    Elements,
}

impl Circuit {
    /// What stands in a feedback loop or between two: all that acts on itself is among it.
    pub(crate) fn feedback(&self, through: Through) -> Cone {
        let graph = Graph::new((0..self.vertices()).map(|n| {
            let (vertex, mut inputs) = (self.vertex(n), Vec::new());
            let element = if let Vertex::Element(e) = vertex { self.elements.get(e.index()) } else { None };
            match (element.map(|e| (e, e.kind)), through) {
                (None, _) => self.each_input(vertex, |v| inputs.push(self.number(v))),
                (Some(_), Through::Gates) => {}
                // what it loads waits for the clock
                (Some((e, Kind::Register { clock, .. })), Through::Elements) => {
                    inputs.extend([clock, e.clear, e.preset].map(|e| self.number(e.into())));
                }
                (Some((_, Kind::Register { .. })), Through::Latches) => {}
                (Some((e, Kind::Latch { open, data })), Through::Latches | Through::Elements) => {
                    inputs.extend([open, data, e.clear, e.preset].map(|e| self.number(e.into())));
                }
            }
            inputs
        }));
        let cycles: Vec<usize> = graph.cycles().into_iter().flatten().collect();
        let (behind, before) = (graph.reachable(cycles.iter().copied()), graph.reversed().reachable(cycles));
        (0..self.vertices()).filter(|&n| behind[n] && before[n]).map(|n| self.vertex(n)).collect()
    }
}
