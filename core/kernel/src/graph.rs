//! Directed graphs over numbered nodes: reachability, strongly connected components (Tarjan, "Depth-first search and linear
//! graph algorithms", 1972), topological order. Nothing recurses: circuits may be deep.
use std::collections::{BTreeMap, BTreeSet};

/// A directed graph; its nodes are numbered from 0.
#[derive(Clone, Debug)]
pub struct Graph {
    /// Where the successors of each node begin, and where the last ones end.
    begins: Vec<usize>,
    successors: Vec<usize>,
}

impl Graph {
    /// From the successors of each node; what leads to no node is left out.
    pub fn new<S: IntoIterator<Item = usize>>(of_each: impl IntoIterator<Item = S>) -> Graph {
        let (mut begins, mut successors) = (vec![0], Vec::new());
        for of_one in of_each {
            successors.extend(of_one);
            begins.push(successors.len());
        }
        let mut graph = Graph { begins, successors };
        let count = graph.len();
        if graph.successors.iter().any(|&n| n >= count) {
            let inside = |n: usize| graph.successors(n).iter().copied().filter(|&to| to < count).collect::<Vec<_>>();
            graph = Graph::new((0..count).map(inside).collect::<Vec<_>>());
        }
        graph
    }

    /// How many nodes there are.
    pub fn len(&self) -> usize {
        self.begins.len().saturating_sub(1)
    }

    /// Whether there is no node.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Where one step from a node leads.
    pub fn successors(&self, node: usize) -> &[usize] {
        match self.begins.get(node..).unwrap_or_default() {
            &[begin, end, ..] => self.successors.get(begin..end).unwrap_or_default(),
            _ => &[],
        }
    }

    /// The same with every edge turned round.
    #[must_use]
    pub fn reversed(&self) -> Graph {
        let mut begins = vec![0; self.len() + 1];
        for &to in &self.successors {
            begins[to + 1] += 1;
        }
        for n in 0..self.len() {
            begins[n + 1] += begins[n];
        }
        let (mut at, mut successors) = (begins.clone(), vec![0; self.successors.len()]);
        for from in 0..self.len() {
            for &to in self.successors(from) {
                successors[at[to]] = from;
                at[to] += 1;
            }
        }
        Graph { begins, successors }
    }

    /// The nodes to which any number of steps lead from these, themselves included.
    pub fn reachable(&self, from: impl IntoIterator<Item = usize>) -> Vec<bool> {
        let mut seen = vec![false; self.len()];
        let mut open: Vec<usize> = from.into_iter().collect();
        while let Some(n) = open.pop() {
            if seen.get_mut(n).is_some_and(|seen| !std::mem::replace(seen, true)) {
                open.extend(self.successors(n));
            }
        }
        seen
    }

    /// The strongly connected components, each with its nodes in order; a component stands behind all to which it leads.
    pub fn components(&self) -> Vec<Vec<usize>> {
        const NEW: usize = usize::MAX;
        const DONE: usize = usize::MAX - 1;
        // the least number that is reached without leaving what is open
        let mut low = vec![NEW; self.len()];
        let mut entered = 0;
        let (mut stack, mut all) = (Vec::new(), Vec::new());
        for root in 0..self.len() {
            if low[root] != NEW {
                continue;
            }
            // node, its own number, and the next of its successors
            let mut path = vec![(root, entered, 0)];
            while let Some(&mut (n, number, ref mut next)) = path.last_mut() {
                if low[n] == NEW {
                    low[n] = number;
                    entered += 1;
                    stack.push(n);
                }
                if let Some(&to) = self.successors(n).get(*next) {
                    match low[to] {
                        NEW => path.push((to, entered, 0)),
                        reached => {
                            *next += 1;
                            if reached != DONE {
                                low[n] = low[n].min(reached);
                            }
                        }
                    }
                    continue;
                }
                path.pop();
                if low[n] == number {
                    let begin = stack.iter().rposition(|&m| m == n).unwrap_or(stack.len());
                    let mut component = stack.split_off(begin);
                    component.iter().for_each(|&m| low[m] = DONE);
                    component.sort_unstable();
                    all.push(component);
                }
            }
        }
        all
    }

    /// The strongly connected components that hold a cycle: more than one node, or one that leads to itself.
    pub fn cycles(&self) -> Vec<Vec<usize>> {
        let is_cycle = |c: &Vec<usize>| !matches!(c.as_slice(), &[n] if !self.successors(n).contains(&n));
        self.components().into_iter().filter(is_cycle).collect()
    }
}

/// The strongly connected components that hold a cycle, of a graph whose nodes have names of their own; what leads to no
/// node is left out.
pub fn cycles<N: Copy + Ord>(successors: &BTreeMap<N, BTreeSet<N>>) -> Vec<BTreeSet<N>> {
    let nodes: Vec<N> = successors.keys().copied().collect();
    let numbered = |of: &BTreeSet<N>| of.iter().filter_map(|n| nodes.binary_search(n).ok()).collect::<Vec<_>>();
    let named = |cycle: Vec<usize>| cycle.into_iter().filter_map(|n| nodes.get(n).copied()).collect();
    Graph::new(successors.values().map(numbered)).cycles().into_iter().map(named).collect()
}

/// Nodes and all to which they lead, each behind what it leads to (a topological order from the sinks up). On a cycle the
/// node that is met again stands behind the others.
pub fn post_order<N: Copy + Ord>(
    roots: impl IntoIterator<Item = N>,
    mut successors: impl FnMut(N) -> Vec<N>,
) -> Vec<N> {
    let (mut seen, mut order) = (BTreeSet::new(), Vec::new());
    for root in roots {
        let mut open = vec![(root, false)];
        while let Some((n, done)) = open.pop() {
            if done {
                order.push(n);
            } else if seen.insert(n) {
                open.push((n, true));
                open.extend(successors(n).into_iter().map(|next| (next, false)));
            }
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two cycles, 1-2-3 and 5-6, one that leads to the other by 4, a node that leads to itself, and one apart.
    fn graph() -> Graph {
        Graph::new([vec![1], vec![2], vec![3, 3], vec![1, 4], vec![5], vec![6], vec![5], vec![7], vec![], vec![99]])
    }

    #[test]
    fn components_stand_behind_what_they_lead_to() {
        let components = graph().components();
        assert_eq!(components[..4], [vec![5, 6], vec![4], vec![1, 2, 3], vec![0]]);
        assert_eq!(graph().cycles(), [vec![5, 6], vec![1, 2, 3], vec![7]]);
    }

    #[test]
    fn reachable_one_way_and_the_other() {
        let marked = |marks: Vec<bool>| (0..marks.len()).filter(|&n| marks[n]).collect::<Vec<_>>();
        assert_eq!(marked(graph().reachable([3])), [1, 2, 3, 4, 5, 6]);
        assert_eq!(marked(graph().reversed().reachable([4])), [0, 1, 2, 3, 4]);
    }

    /// Two nodes are in one component exactly if each reaches the other, by the definition.
    #[test]
    fn components_are_what_reaches_each_other() {
        let mut word = 1886u64;
        for count in 1..40 {
            let graph = Graph::new((0..count).map(|_| {
                let drawn = (0..2).map(|_| {
                    word = word.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (word >> 33) as usize % (2 * count)
                });
                drawn.collect::<Vec<_>>()
            }));
            let reached: Vec<Vec<bool>> = (0..count).map(|n| graph.reachable([n])).collect();
            let components = graph.components();
            assert_eq!(components.iter().map(Vec::len).sum::<usize>(), count);
            let of = |n: usize| components.iter().position(|c| c.contains(&n));
            for (a, b) in (0..count).flat_map(|a| (0..count).map(move |b| (a, b))) {
                assert_eq!(of(a) == of(b), reached[a][b] && reached[b][a], "{a} and {b} of {count}");
                assert!(!reached[a][b] || of(b) <= of(a), "{a} leads to {b}");
            }
        }
    }

    #[test]
    fn cycles_by_name() {
        let set = BTreeSet::from_iter::<Vec<char>>;
        let graph = BTreeMap::from([
            ('a', set(vec!['b', 'z'])),
            ('b', set(vec!['c'])),
            ('c', set(vec!['b'])),
            ('d', set(vec!['d'])),
        ]);
        assert_eq!(cycles(&graph), [set(vec!['b', 'c']), set(vec!['d'])]);
    }

    #[test]
    fn operands_come_first() {
        let below = |n: u32| if n > 1 { vec![n / 2, n - 1] } else { vec![] };
        assert_eq!(post_order([5], below), [1, 2, 3, 4, 5]);
    }
}
