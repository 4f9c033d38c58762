//! Branch and bound over one part of a covering matrix.
use gluewright_kernel::limit::Limit;

use super::bound::{Pace, Prices};
use super::local::greedy;
use super::matrix::Matrix;

/// A search tree over one part.
#[derive(Debug)]
pub(crate) struct Tree<'a> {
    /// The cost of the best cover known.
    pub(crate) upper: u64,
    /// Its columns by label, if the tree found it.
    pub(crate) best: Option<Vec<u32>>,
    /// Only covers of exactly this many columns matter.
    pub(crate) count: Option<u64>,
    /// How many matrix entries may still be looked at.
    pub(crate) work: &'a mut u64,
    /// When none may.
    pub(crate) limit: Limit,
}

/// A node of the tree: what is left to cover after some choices.
#[derive(Clone)]
struct Node {
    m: Matrix,
    /// Prices by mark, and the price of the number of columns.
    prices: Vec<f64>,
    /// What the chosen columns cost.
    spent: u64,
}

impl Tree<'_> {
    /// Searches for a cover cheaper than `upper`, with `prices` as the first guess. Returns what no cover is below (at
    /// least `upper` if there is none cheaper and the work sufficed).
    pub(crate) fn search(&mut self, m: Matrix, prices: &Prices) -> u64 {
        let mut store = vec![0.0; m.rows.len() + 1];
        prices.store(&m, &mut store);
        self.node(Node { m, prices: store, spent: 0 }, &mut Vec::new())
    }

    fn node(&mut self, mut node: Node, path: &mut Vec<u32>) -> u64 {
        let depth = path.len();
        if self.limit.over().is_some() {
            *self.work = 0;
        }
        let mut lower = self.bound(&mut node, path);
        if lower < self.upper && *self.work > 0 {
            lower = self.branch(node, path);
        }
        path.truncate(depth);
        lower
    }

    /// Shrinks a node by reductions and prices until nothing moves. Returns what no cover below it is below.
    fn bound(&mut self, node: &mut Node, path: &mut Vec<u32>) -> u64 {
        let Node { m, prices: store, spent } = node;
        loop {
            if m.is_impossible() {
                return u64::MAX;
            }
            self.charge(4 * m.rows.total() as u64);
            *spent += m.reduce(path);
            if *spent >= self.upper {
                return *spent;
            }
            if m.is_empty() {
                self.upper = *spent;
                self.best = Some(path.clone());
                return *spent;
            }
            let count = match self.count.map(|n| n.checked_sub(path.len() as u64)) {
                Some(None | Some(0)) => return u64::MAX,
                Some(left) => left,
                None => None,
            };
            let room = self.upper - *spent;
            let mut prices = Prices::carried(m, count, store);
            let work = prices.improve(m, count, room, Pace { steps: 40, scale: 0.5 }, |_| room);
            self.charge(work);
            prices.store(m, store);
            let lower = *spent + prices.lower();
            if lower >= self.upper {
                return lower;
            }
            self.try_greedy(m, &prices, *spent, path);
            // what no better cover can use, what every better cover must
            let gap = (self.upper - *spent) as f64 - 1.0 - prices.bound + 1e-6;
            let out: Vec<bool> = prices.reduced.iter().map(|&c| c > gap).collect();
            let must: Vec<u32> = (0..m.columns.len() as u32).filter(|&c| prices.reduced[c as usize] < -gap).collect();
            if must.is_empty() && !out.contains(&true) {
                return lower;
            }
            let mut done = vec![false; m.rows.len()];
            for &c in &must {
                path.push(m.label[c as usize]);
                m.columns.at(c as usize).iter().for_each(|&r| done[r as usize] = true);
            }
            *spent += m.cost_of(&must);
            m.keep(|r| !done[r], |c| !out[c]);
        }
    }

    /// A cover that the prices suggest may be the best so far.
    fn try_greedy(&mut self, m: &Matrix, prices: &Prices, spent: u64, path: &[u32]) {
        let cover = greedy(m, &prices.reduced);
        let cost = spent + m.cost_of(&cover);
        let number = (path.len() + cover.len()) as u64;
        if cost < self.upper && self.count.is_none_or(|n| number <= n) {
            self.upper = cost;
            self.best = Some(path.iter().copied().chain(cover.iter().map(|&c| m.label[c as usize])).collect());
        }
    }

    /// With and without the column that rows with few columns need most.
    fn branch(&mut self, node: Node, path: &mut Vec<u32>) -> u64 {
        let Node { m, prices, spent } = node;
        let count = self.count.map(|n| n.saturating_sub(path.len() as u64));
        let reduced = Prices::carried(&m, count, &prices).reduced;
        let scarce: Vec<f64> = m.rows.iter().map(|r| 1.0 / (r.len() as f64 - 0.5)).collect();
        let need = m.columns.iter().zip(&reduced).map(|(column, reduced)| {
            column.iter().map(|&r| scarce[r as usize]).sum::<f64>() / (1.0 + 5.0 * reduced.abs())
        });
        let Some((pick, _)) = need.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) else { return spent };
        let mut with = m.clone();
        let cost = with.choose(&[pick as u32], path);
        let a = self.node(Node { m: with, prices: prices.clone(), spent: spent + cost }, path);
        path.pop();
        let mut without = m;
        without.keep(|_| true, |c| c != pick);
        let b = self.node(Node { m: without, prices, spent }, path);
        a.min(b)
    }

    fn charge(&mut self, work: u64) {
        *self.work = self.work.saturating_sub(work);
    }
}
