//! A point: the value of everything in a machine at one moment.
use super::{Algebra, Feed, Gate, Machine, NodeId};

/// The value of every node of one machine, settled or not.
#[derive(Clone, Debug, PartialEq)]
pub struct Point<V> {
    pub(super) values: Vec<V>,
}

impl<V: Copy> Point<V> {
    pub(super) fn at(&self, node: NodeId) -> V {
        self.values[node.index()]
    }
}

impl Point<u64> {
    /// Runs of several points, each given by its point and its lane, side by side in this order from lane 0 on.
    pub fn gathered(lanes: &[(&Point<u64>, u32)]) -> Point<u64> {
        let nodes = lanes.first().map_or(0, |(p, _)| p.values.len());
        let mut values = vec![0; nodes];
        for (to, (point, lane)) in lanes.iter().take(64).enumerate() {
            for (value, from) in values.iter_mut().zip(&point.values) {
                *value |= ((from >> lane) & 1) << to;
            }
        }
        Point { values }
    }
}

impl Machine {
    /// The point with these levels outside (one a port) and these bits held (one a cell); nothing is settled.
    pub fn point<A: Algebra>(&self, algebra: &mut A, outside: &[A::Value], cells: &[A::Value]) -> Point<A::Value> {
        let low = algebra.constant(false);
        let mut point = Point { values: vec![low; self.gates.len()] };
        for i in 0..self.gates.len() {
            point.values[i] = match self.gates[i] {
                Gate::Outside(p) => outside.get(p as usize).copied().unwrap_or(low),
                Gate::Cell(c) => cells.get(c as usize).copied().unwrap_or(low),
                Gate::Floating(_) if !self.live[i] => algebra.constant(true),
                Gate::Floating(n) => {
                    let (always, high) = (algebra.constant(true), algebra.constant(true));
                    algebra.unknown(super::Unknown::Floating(n), always, high)
                }
                _ => self.evaluate(algebra, &point, NodeId(i as u32)),
            };
        }
        point
    }

    pub(super) fn evaluate<A: Algebra>(&self, algebra: &mut A, point: &Point<A::Value>, node: NodeId) -> A::Value {
        match self.gates[node.index()] {
            Gate::Constant(v) => algebra.constant(v),
            Gate::Outside(_) | Gate::Cell(_) | Gate::Floating(_) => point.at(node),
            Gate::Wire(_, a) => point.at(a),
            Gate::Not(a) => algebra.not(point.at(a)),
            Gate::And(a, b) => algebra.and(point.at(a), point.at(b)),
            Gate::Or(a, b) => algebra.or(point.at(a), point.at(b)),
            Gate::Xor(a, b) => algebra.xor(point.at(a), point.at(b)),
            Gate::Choose(c, a, b) => algebra.choose(point.at(c), point.at(a), point.at(b)),
        }
    }

    /// What the cells hold.
    pub fn held<V: Copy>(&self, point: &Point<V>) -> Vec<V> {
        self.cells.iter().map(|c| point.at(c.source)).collect()
    }

    /// What one cell holds, by its number.
    pub(crate) fn holds<V: Copy>(&self, point: &Point<V>, cell: usize) -> V {
        point.at(self.cells[cell].source)
    }

    /// What a cell's [inputs](Feed::inputs) are.
    pub(crate) fn fed<V: Copy>(&self, point: &Point<V>, cell: usize) -> impl Iterator<Item = V> {
        self.cells[cell].feed.inputs().into_iter().map(|n| point.at(n))
    }

    /// What the floating nets read, in the order of [`Machine::floating`].
    pub fn floating_levels<V: Copy>(&self, point: &Point<V>) -> Vec<V> {
        self.floats.iter().map(|&n| point.at(n)).collect()
    }

    /// The levels outside.
    pub fn outside<V: Copy>(&self, point: &Point<V>) -> Vec<V> {
        self.ports.iter().map(|p| point.at(p.outside)).collect()
    }

    /// Whether a port is driven, and to what level.
    pub fn shown<V: Copy>(&self, point: &Point<V>, port: usize) -> (V, V) {
        let p = &self.ports[port];
        (point.at(p.drive), point.at(p.level))
    }

    /// Whether the drivers of a net fight.
    pub fn fights_at<V: Copy>(&self, point: &Point<V>, fight: usize) -> V {
        point.at(self.fights[fight].when)
    }

    /// The value of any node.
    pub fn value<V: Copy>(&self, point: &Point<V>, node: NodeId) -> V {
        point.at(node)
    }

    /// True where a cell is at rest: nothing asynchronous would change it.
    pub fn rests<A: Algebra>(&self, algebra: &mut A, point: &Point<A::Value>, cell: usize) -> A::Value {
        let holds = point.at(self.cells[cell].source);
        match self.cells[cell].feed {
            Feed::Memory { next } => {
                let differs = algebra.xor(point.at(next), holds);
                algebra.not(differs)
            }
            Feed::Joint { clear, preset } => {
                let both = algebra.and(point.at(clear), point.at(preset));
                let differs = algebra.xor(both, holds);
                algebra.not(differs)
            }
            Feed::Register { clear, preset, .. } => {
                let (clear, preset) = (point.at(clear), point.at(preset));
                let not_cleared = algebra.and(clear, holds);
                let empty = algebra.not(holds);
                let free = algebra.not(clear);
                let set = algebra.and(preset, free);
                let not_preset = algebra.and(set, empty);
                let restless = algebra.or(not_cleared, not_preset);
                algebra.not(restless)
            }
        }
    }
}
