//! How a circuit behaves in time: one settled event machine, its step written once over an algebra.
//!
//! The circuit's nets are resolved and its loops cut once ([`Machine::new`]); a [`Point`] is everything that a settled
//! (or settling) machine shows; [`Machine::step`] goes from a point over a change at the contacts to the next one.
mod algebra;
mod compile;
mod depth;
mod either;
mod fan_out;
mod gates;
// public: captures and mends follow a circuit through many states at once
pub mod known;
mod loops;
mod point;
pub(crate) mod rails;
mod step;
// public: captures and mends ask what is certain while levels are unknown
pub mod ternary;

use crate::circuit::{ElementId, Expr, Label, NetId, Pull};
use crate::order::Opened;

pub(crate) use algebra::sixty_four_runs;
pub use algebra::{Algebra, Freedom, Lanes, Symbolic};
pub use point::Point;
pub(crate) use rails::Rails;
pub(crate) use step::{Desk, Film, Passed};
pub use step::{Limits, Stepped, View};

/// A node of the compiled machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(u32);

impl NodeId {
    fn index(self) -> usize {
        self.0 as usize
    }
}

/// A node: an operand always stands before what uses it, except through a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Gate {
    Constant(bool),
    /// The level that the board puts on a port.
    Outside(u32),
    /// What a cell holds.
    Cell(u32),
    /// A floating net that is read: any level, anew at each event.
    Floating(u32),
    /// The level of this net, which may feed itself through gates and open latches: it follows with a delay of its own.
    Wire(u32, NodeId),
    Not(NodeId),
    And(NodeId, NodeId),
    Or(NodeId, NodeId),
    Xor(NodeId, NodeId),
    Choose(NodeId, NodeId, NodeId),
}

/// One bit of memory: a register, a latch, a net on which a combinational loop was cut, or the mark of a register whose
/// clear and preset are both asserted.
#[derive(Clone, Debug)]
pub struct Cell {
    /// The element's name, or the net's.
    pub name: String,
    /// What it holds at power-up, if that is known.
    pub start: Option<bool>,
    /// Whether it acts on an edge.
    pub is_register: bool,
    /// What of the circuit it is.
    pub(crate) place: Place,
    source: NodeId,
    feed: Feed,
}

impl Cell {
    /// The net on which it cuts a loop, if it does.
    pub fn net(&self) -> Option<NetId> {
        match self.place {
            Place::Net(net) => Some(net),
            Place::Element(_) | Place::Mark(_) => None,
        }
    }
}

/// What of a circuit a cell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Place {
    /// What a register or a latch holds.
    Element(ElementId),
    /// The mark of one whose clear and preset are both asserted.
    Mark(ElementId),
    /// A net on which a loop is cut.
    Net(NetId),
}

#[derive(Clone, Copy, Debug)]
enum Feed {
    Register {
        clock: NodeId,
        data: NodeId,
        clear: NodeId,
        preset: NodeId,
        /// While true at the edge, nobody knows what is loaded.
        unknown: NodeId,
    },
    /// A latch or a cut loop: takes this at once.
    Memory { next: NodeId },
    /// Both asserted: takes the conjunction one phase later, as the register itself does.
    Joint { clear: NodeId, preset: NodeId },
}

impl Feed {
    /// What a cell reads: clock, data, clear, preset and where its load is unknown; the next value of one that has no clock.
    fn inputs(self) -> Vec<NodeId> {
        match self {
            Feed::Register { clock, data, clear, preset, unknown } => vec![clock, data, clear, preset, unknown],
            Feed::Memory { next } => vec![next],
            Feed::Joint { clear, preset } => vec![clear, preset],
        }
    }

    /// Those of its inputs that move it by themselves.
    fn acting(self) -> Vec<NodeId> {
        match self {
            Feed::Register { clock, clear, preset, .. } => vec![clock, clear, preset],
            Feed::Memory { .. } | Feed::Joint { .. } => self.inputs(),
        }
    }
}

/// A latch whose clear and preset may both be asserted.
#[derive(Clone, Copy, Debug)]
struct Release {
    cell: u32,
    open: NodeId,
    clear: NodeId,
    preset: NodeId,
}

/// A contact, as the machine sees it.
#[derive(Clone, Debug)]
pub struct Port {
    /// The contact's label.
    pub label: Label,
    /// The signal's name.
    pub name: String,
    /// Weakly pulled while nobody drives.
    pub pull: Pull,
    drive: NodeId,
    level: NodeId,
    outside: NodeId,
}

/// A condition under which two drivers of one net disagree.
#[derive(Clone, Debug)]
pub struct Fight {
    /// The net.
    pub net: String,
    /// The drivers on it.
    pub drivers: Vec<String>,
    when: NodeId,
}

/// Something whose outcome nobody knows, by machine position: the same place always has the same value here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unknown {
    /// Clear and preset of this cell were released together.
    JointRelease(u32),
    /// Clear or preset of this cell was released together with its clock's edge (recovery).
    Recovery(u32),
    /// The data of this cell changed together with its clock's edge.
    Race(u32),
    /// This cell loaded where its data sheet does not say what.
    Load(u32),
    /// The gates and open latches of a loop raced: this cell, on which it is cut, settles as their delays decide.
    Loop(u32),
    /// A floating net was read.
    Floating(u32),
    /// Delays decide what this cell does.
    Order(u32),
}

/// A circuit made ready to run.
#[derive(Clone, Debug)]
pub struct Machine {
    /// The circuit's name.
    pub name: String,
    gates: Vec<Gate>,
    /// For each node, the nodes that use it, in rising order.
    users: Vec<Vec<NodeId>>,
    cells: Vec<Cell>,
    ports: Vec<Port>,
    fights: Vec<Fight>,
    loops: Vec<loops::Loop>,
    /// For each cell, the loop of several memories in which it moves in turn, by number.
    turns: Vec<Option<u32>>,
    releases: Vec<Release>,
    floating: Vec<String>,
    /// The node of each floating net.
    floats: Vec<NodeId>,
    /// For each node, the cells that it feeds as clock, clear, preset or next value.
    feeds: Vec<Vec<u32>>,
    /// For each node, the ports that show it.
    shows: Vec<Vec<u32>>,
    /// For each node, the releases that it may bring about and the loops that it belongs to: releases first.
    stirs: Vec<Vec<u32>>,
    /// For each node, whether a cell, a contact or a watched fight depends on it.
    live: Vec<bool>,
    /// The node of each expression of the circuit.
    of_expression: Vec<NodeId>,
    /// The node of each net of the circuit.
    of_net: Vec<Option<NodeId>>,
    /// What the order of changes leaves open and is followed both ways.
    pub(crate) opened: Option<std::sync::Arc<Opened>>,
}

impl Machine {
    /// All bits of memory.
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    /// How many gates there are: a measure of how long a run takes.
    pub fn gate_count(&self) -> usize {
        self.gates.len()
    }

    /// All contacts, in the circuit's order.
    pub fn ports(&self) -> &[Port] {
        &self.ports
    }

    /// The number of the contact with this label.
    pub fn port(&self, label: &Label) -> Option<usize> {
        self.ports.iter().position(|p| &p.label == label)
    }

    /// Levels outside, one a port, from levels by label. Ports that are not named are low.
    pub fn outside_by_label<V: Copy>(&self, levels: &[(Label, bool)], of: impl Fn(bool) -> V) -> Vec<V> {
        let mut outside = vec![of(false); self.ports.len()];
        for (port, level) in self.event_by_label(levels, of) {
            outside[port] = level;
        }
        outside
    }

    /// An event by port number, from new levels by label. What is no port's label is left out.
    pub fn event_by_label<V>(&self, event: &[(Label, bool)], of: impl Fn(bool) -> V) -> Vec<(usize, V)> {
        event.iter().filter_map(|(label, high)| Some((self.port(label)?, of(*high)))).collect()
    }

    /// Nets on which drivers can disagree.
    pub fn fights(&self) -> &[Fight] {
        &self.fights
    }

    /// Nets that are read while nobody may drive them.
    pub fn floating(&self) -> &[String] {
        &self.floating
    }

    /// Whether the machine reads what the board puts on a port.
    pub fn reads_outside(&self, port: usize) -> bool {
        self.ports.get(port).is_some_and(|p| self.live[p.outside.index()])
    }

    /// Whether the machine may ever drive a port.
    pub(crate) fn may_drive(&self, port: usize) -> bool {
        self.ports.get(port).is_some_and(|p| self.gates[p.drive.index()] != Gate::Constant(false))
    }

    /// Whether the machine drives a port at all times.
    pub(crate) fn always_drives(&self, port: usize) -> bool {
        self.ports.get(port).is_some_and(|p| self.gates[p.drive.index()] == Gate::Constant(true))
    }

    /// The ports that reach the clock of some register through gates alone.
    pub fn clocking_ports(&self) -> Vec<usize> {
        self.ports_that_reach(self.cells.iter().filter_map(|c| match c.feed {
            Feed::Register { clock, .. } => Some(clock),
            Feed::Memory { .. } | Feed::Joint { .. } => None,
        }))
    }

    /// The ports that reach the clear or preset of some register through gates alone.
    pub(crate) fn forcing_ports(&self) -> Vec<usize> {
        self.ports_that_reach(self.cells.iter().flat_map(|c| match c.feed {
            Feed::Register { clear, preset, .. } => vec![clear, preset],
            Feed::Memory { .. } | Feed::Joint { .. } => Vec::new(),
        }))
    }

    /// Whether anything that a cell takes or a contact shows is computed from the level outside at a port.
    pub(crate) fn reaches(&self, port: usize) -> bool {
        let Some(outside) = self.ports.get(port).map(|p| p.outside) else { return false };
        let mut seen = std::collections::BTreeSet::from([outside]);
        let mut wanted = seen.clone();
        while let Some(n) = wanted.pop_first() {
            let data = |c: &Cell| c.feed.inputs().contains(&n);
            if !self.shows[n.index()].is_empty() || !self.feeds[n.index()].is_empty() || self.cells.iter().any(data) {
                return true;
            }
            wanted.extend(self.users[n.index()].iter().copied().filter(|&user| seen.insert(user)));
        }
        false
    }

    /// The floating nets on which the data of a register depend through gates alone, by their numbers.
    pub(crate) fn floats_behind(&self, unknown: Unknown) -> Vec<u32> {
        let mut wanted: Vec<NodeId> = match self.cell_of(unknown).map(|c| c.feed) {
            Some(Feed::Register { data, .. }) => vec![data],
            _ => Vec::new(),
        };
        let (mut seen, mut floats) = (vec![false; self.gates.len()], Vec::new());
        while let Some(n) = wanted.pop() {
            if std::mem::replace(&mut seen[n.index()], true) {
                continue;
            }
            match self.gates[n.index()] {
                Gate::Floating(n) => floats.push(n),
                gate => wanted.extend(gates::operands(gate)),
            }
        }
        floats.sort_unstable();
        floats
    }

    fn ports_that_reach(&self, nodes: impl Iterator<Item = NodeId>) -> Vec<usize> {
        let reached = gates::graph(&self.gates).reachable(nodes.map(NodeId::index));
        let outside = |(gate, reached): (&Gate, bool)| match gate {
            Gate::Outside(p) if reached => Some(*p as usize),
            _ => None,
        };
        self.gates.iter().zip(reached).filter_map(outside).collect()
    }

    /// The node of an expression of the circuit.
    pub fn node_of(&self, expression: Expr) -> Option<NodeId> {
        self.of_expression.get(expression.index()).copied()
    }

    /// The node of a net's level.
    pub fn node_of_net(&self, net: NetId) -> Option<NodeId> {
        self.of_net.get(net.index()).copied().flatten()
    }

    /// The nodes of what the board puts on each port.
    pub(crate) fn outside_nodes(&self) -> impl Iterator<Item = NodeId> {
        self.ports.iter().map(|p| p.outside)
    }

    /// Whether some outcome is followed that the phases leave open, by typical delays or as it was acknowledged.
    pub fn follows_delays(&self) -> bool {
        self.opened.is_some()
    }

    /// Whether both outcomes of a cell are followed in some kind of event.
    pub(crate) fn is_opened(&self, cell: usize) -> bool {
        self.opened.as_ref().is_some_and(|o| o.has(cell))
    }

    /// The node of what a cell holds.
    pub(crate) fn node_of_cell(&self, cell: usize) -> Option<NodeId> {
        self.cells.get(cell).map(|c| c.source)
    }

    /// Whether it can happen that nobody knows what a cell loads.
    pub fn may_load_unknown(&self, cell: usize) -> bool {
        matches!(self.cells.get(cell).map(|c| c.feed), Some(Feed::Register { unknown, .. })
            if self.gates.get(unknown.index()) != Some(&Gate::Constant(false)))
    }

    /// The cell that an unknown is about; nothing for a floating net.
    pub fn cell_of(&self, unknown: Unknown) -> Option<&Cell> {
        match unknown {
            Unknown::JointRelease(c)
            | Unknown::Recovery(c)
            | Unknown::Race(c)
            | Unknown::Load(c)
            | Unknown::Loop(c)
            | Unknown::Order(c) => self.cells.get(c as usize),
            Unknown::Floating(_) => None,
        }
    }

    /// What happens at an unknown, in words.
    pub fn describe(&self, unknown: Unknown) -> String {
        let cell = |i: u32| self.cells.get(i as usize).map_or("?", |c| c.name.as_str());
        match unknown {
            Unknown::JointRelease(c) => format!("`{}`: clear and preset released together", cell(c)),
            Unknown::Recovery(c) => format!("`{}`: clear or preset released together with a clock edge", cell(c)),
            Unknown::Race(c) => format!("`{}`: data changed together with its clock edge", cell(c)),
            Unknown::Load(c) => format!("`{}`: loaded where its data sheet doesn't say what", cell(c)),
            Unknown::Loop(c) => format!("`{}`: gates or open latches of a loop race, and their delays decide", cell(c)),
            Unknown::Order(c) => format!("`{}`: delays decide what comes first", cell(c)),
            Unknown::Floating(n) => {
                format!("`{}`: read while nothing drives it", self.floating.get(n as usize).map_or("?", String::as_str))
            }
        }
    }
}

#[cfg(test)]
mod tests;
