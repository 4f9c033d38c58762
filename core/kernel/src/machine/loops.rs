//! Races in combinational loops: whether gates and open latches that feed each other can settle in more than one way.
//!
//! A loop's nets are released from their old levels, with the new levels at its inputs, every gate with a delay of its own:
//! first everything that may move becomes undetermined, then what is forced becomes determined again. What stays
//! undetermined depends on the delays. Every net of a loop is kept apart from every other and from the gate behind it,
//! however much of the logic is folded: else a race between two paths round the loop would be lost. (Ternary simulation:
//! Eichelberger 1965; that it gives exactly what some delays give: Brzozowski and Seger, "Asynchronous Circuits", 1995,
//! chapter 7.)
use super::gates::operands;
use super::rails::Rails;
use super::{Algebra, Gate, Machine, NodeId, Point};
use crate::graph::Graph;

/// One loop that is cut somewhere: all nets that feed each other.
#[derive(Clone, Debug)]
pub(super) struct Loop {
    /// The cells that cut it: number, source, next value.
    pub(super) cuts: Vec<(u32, NodeId, NodeId)>,
    /// Its other nets, by their nodes.
    pub(super) nets: Vec<NodeId>,
    /// Its gates and nets, operands first.
    pub(super) gates: Vec<NodeId>,
    /// Whether a memory of it powers up at a level that is given.
    pub(super) given: bool,
    /// The marks among its cells that a latch's clear and preset are both asserted, each with the latch's preset.
    pub(super) marks: Vec<(NodeId, NodeId)>,
}

impl Loop {
    /// The loops among these gates. `cuts` are the cells that cut one, with their next values; `nets` are the nodes of
    /// all nets.
    pub(super) fn find(gates: &[Gate], cuts: &[(u32, NodeId, NodeId)], nets: &[NodeId]) -> Vec<Loop> {
        let graph = Graph::new((0..gates.len()).map(|n| {
            let cut = cuts.iter().filter(move |c| c.1.index() == n).map(|c| c.2);
            operands(gates[n]).chain(cut).map(NodeId::index)
        }));
        let mut of = vec![0; gates.len()];
        let components = graph.components();
        for (number, component) in components.iter().enumerate() {
            component.iter().for_each(|&n| of[n] = number);
        }
        let mut done = vec![false; cuts.len()];
        let mut loops = Vec::new();
        for (i, &(_, source, _)) in cuts.iter().enumerate() {
            if done[i] {
                continue;
            }
            let within = |n: NodeId| of[n.index()] == of[source.index()];
            let mine: Vec<_> = cuts.iter().copied().filter(|c| within(c.1)).collect();
            for (k, cut) in cuts.iter().enumerate() {
                done[k] |= within(cut.1);
            }
            let mut others: Vec<NodeId> =
                nets.iter().copied().filter(|&n| within(n) && !mine.iter().any(|c| c.1 == n || c.2 == n)).collect();
            others.sort_unstable();
            others.dedup();
            // a single net has nothing to race with
            if mine.len() + others.len() < 2 {
                continue;
            }
            let inner = components[of[source.index()]]
                .iter()
                .filter(|&&n| !matches!(gates[n], Gate::Cell(_)))
                .map(|&n| NodeId(n as u32))
                .collect();
            loops.push(Loop { cuts: mine, nets: others, gates: inner, given: false, marks: Vec::new() });
        }
        loops
    }

    /// For each cut, where its value depends on the delays. `before` is the settled point, `now` has the new levels at
    /// the loop's inputs.
    pub(super) fn races<A: Algebra>(
        &self,
        machine: &Machine,
        algebra: &mut A,
        before: &impl Fn(NodeId) -> A::Value,
        now: &Point<A::Value>,
    ) -> Vec<A::Value> {
        // an output shows what the latch holds, or the mark: while the preset is asserted it is high, whichever of them it is
        let follows = |&(_, source, next): &(u32, NodeId, NodeId)| {
            let preset = self.marks.iter().find(|&&(mark, _)| mark == source);
            (source, preset.map_or(next, |&(_, preset)| preset))
        };
        let mut states: Vec<(NodeId, NodeId)> =
            self.cuts.iter().map(follows).chain(self.nets.iter().map(|&n| (n, n))).collect();
        let mut y: Vec<Rails<A::Value>> = states.iter().map(|&(held, _)| Rails::of(algebra, before(held))).collect();
        for _ in 0..states.len() {
            let next = self.functions(machine, algebra, now, &states, &y);
            let wider: Vec<_> = y.iter().zip(next).map(|(a, b)| a.join(algebra, b)).collect();
            if wider == y {
                break;
            }
            y = wider;
        }
        for _ in 0..states.len() {
            let next = self.functions(machine, algebra, now, &states, &y);
            if next == y {
                break;
            }
            y = next;
        }
        if !self.marks.is_empty() {
            states.iter_mut().zip(&self.cuts).for_each(|(state, cut)| state.1 = cut.2);
            y = self.functions(machine, algebra, now, &states, &y);
        }
        y[..self.cuts.len()].iter().map(|y| y.open(algebra)).collect()
    }

    fn functions<A: Algebra>(
        &self,
        machine: &Machine,
        algebra: &mut A,
        now: &Point<A::Value>,
        states: &[(NodeId, NodeId)],
        y: &[Rails<A::Value>],
    ) -> Vec<Rails<A::Value>> {
        let mut made: Vec<Rails<A::Value>> = Vec::with_capacity(self.gates.len());
        for &gate in &self.gates {
            let at = |algebra: &mut A, n: NodeId| {
                if let Some(i) = states.iter().position(|s| s.0 == n) {
                    return y[i];
                }
                match self.gates.binary_search(&n) {
                    Ok(i) if i < made.len() => made[i],
                    _ => Rails::of(algebra, now.at(n)),
                }
            };
            let value = match machine.gates[gate.index()] {
                Gate::Not(a) => at(algebra, a).not(),
                Gate::And(a, b) => {
                    let (a, b) = (at(algebra, a), at(algebra, b));
                    a.and(algebra, b)
                }
                Gate::Or(a, b) => {
                    let (a, b) = (at(algebra, a), at(algebra, b));
                    a.or(algebra, b)
                }
                Gate::Xor(a, b) => {
                    let (a, b) = (at(algebra, a), at(algebra, b));
                    a.xor(algebra, b)
                }
                Gate::Choose(c, a, b) => {
                    let (c, a, b) = (at(algebra, c), at(algebra, a), at(algebra, b));
                    c.choose(algebra, a, b)
                }
                Gate::Wire(_, a) => at(algebra, a),
                Gate::Constant(_) | Gate::Outside(_) | Gate::Cell(_) | Gate::Floating(_) => at(algebra, gate),
            };
            made.push(value);
        }
        states
            .iter()
            .map(|&(_, function)| match self.gates.binary_search(&function) {
                Ok(i) => made[i],
                Err(_) => Rails::of(algebra, now.at(function)),
            })
            .collect()
    }
}
