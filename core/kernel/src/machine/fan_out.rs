//! The fan-out of each node of a machine, and what is live: worked out once when all its gates are there.
use super::compile::{Compiler, Progress};
use super::gates::{LOW, graph};
use super::loops::Loop;
use crate::circuit::NetId;

use super::{Feed, Gate, Machine, NodeId, Port};

impl Compiler<'_> {
    pub(super) fn finish(self, ports: Vec<Port>) -> Machine {
        let count = self.gates.all.len();
        let operands = graph(&self.gates.all);
        let users = operands.reversed();
        let users = (0..count).map(|n| users.successors(n).iter().map(|&n| NodeId(n as u32)).collect()).collect();
        let mut feeds = vec![Vec::new(); count];
        for (i, cell) in self.cells.iter().enumerate() {
            let mut nodes = cell.feed.acting();
            nodes.dedup();
            for n in nodes {
                feeds[n.index()].push(i as u32);
            }
        }
        let mut shows = vec![Vec::new(); count];
        for (i, port) in ports.iter().enumerate() {
            shows[port.drive.index()].push(i as u32);
            shows[port.level.index()].push(i as u32);
        }
        let mut wanted: Vec<NodeId> = ports.iter().flat_map(|p| [p.drive, p.level]).collect();
        wanted.extend(self.fights.iter().map(|f| f.when));
        wanted.extend(self.cells.iter().flat_map(|c| c.feed.inputs()));
        let live = operands.reachable(wanted.into_iter().map(NodeId::index));
        let mut floats = vec![LOW; self.floating.len()];
        for (i, gate) in self.gates.all.iter().enumerate() {
            if let Gate::Floating(n) = *gate
                && let Some(slot) = floats.get_mut(n as usize)
            {
                *slot = NodeId(i as u32);
            }
        }
        let cuts: Vec<(u32, NodeId, NodeId)> = self
            .cuts
            .iter()
            .filter_map(|&c| match self.cells.get(c)?.feed {
                Feed::Memory { next } => Some((c as u32, self.cells[c].source, next)),
                Feed::Register { .. } | Feed::Joint { .. } => None,
            })
            .collect();
        let of_net: Vec<Option<NodeId>> = self
            .nets
            .iter()
            .map(|n| match *n {
                Progress::Done(node) => Some(node),
                Progress::Untouched | Progress::Begun | Progress::Cut(_) => None,
            })
            .collect();
        // a net that only shows what a gate of a loop makes is no memory of its own, though it has the gate's node
        let in_loop = |&(n, _): &(usize, &Option<NodeId>)| self.feedback.contains(NetId::at(n));
        let nets: Vec<NodeId> = of_net.iter().enumerate().filter(in_loop).filter_map(|(_, &node)| node).collect();
        let mut loops = Loop::find(&self.gates.all, &cuts, &nets);
        let mut turns = vec![None; self.cells.len()];
        let marked = self.circuit.elements().iter().zip(&self.joints);
        let presets: Vec<(NodeId, NodeId)> =
            marked.filter_map(|(e, mark)| Some(((*mark)?, self.at(e.preset)))).collect();
        for (i, l) in loops.iter_mut().enumerate().filter(|(_, l)| l.cuts.len() > 1) {
            // the mark of clear and preset follows them and is no choice
            let is_mark = |source: NodeId| self.joints.contains(&Some(source));
            l.given =
                l.cuts.iter().any(|&(cell, source, _)| self.cells[cell as usize].start.is_some() && !is_mark(source));
            l.marks = presets.iter().copied().filter(|&(mark, _)| l.cuts.iter().any(|c| c.1 == mark)).collect();
            l.cuts.iter().for_each(|&(cell, ..)| turns[cell as usize] = Some(i as u32));
        }
        let mut stirs = vec![Vec::new(); count];
        for (i, r) in self.releases.iter().enumerate() {
            for n in [r.clear, r.preset] {
                stirs[n.index()].push(i as u32);
            }
        }
        for (i, l) in loops.iter().enumerate() {
            for &n in &l.gates {
                stirs[n.index()].push((self.releases.len() + i) as u32);
            }
        }
        Machine {
            loops,
            turns,
            releases: self.releases,
            live,
            floats,
            name: self.circuit.name.clone(),
            gates: self.gates.all,
            users,
            cells: self.cells,
            ports,
            fights: self.fights,
            floating: self.floating,
            feeds,
            shows,
            stirs,
            of_net,
            opened: None,
            of_expression: self.expressions.into_iter().map(|e| e.unwrap_or(LOW)).collect(),
        }
    }
}
