//! Unate covering: the cheapest set of columns that covers every row, fewest columns first.
mod bound;
mod lists;
mod local;
mod matrix;
mod search;

pub(crate) use lists::Lists;
pub(crate) use matrix::Matrix;

use bound::{Pace, Prices};
use gluewright_kernel::limit::Limit;
use gluewright_kernel::random::Xorshift;
use local::{cheaper, greedy, weighted};
use search::Tree;

/// How many entries a local search looks at for each entry of the matrix: small parts are left to the tree.
const SWAP_EFFORT: u64 = 1000;

/// What the first search tree may look at before a longer local search has another try.
const FIRST_TREE: u64 = 30_000_000;

/// How many matrix entries may be looked at, for each covering problem.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Budget {
    /// In the local search of one part.
    pub(crate) swaps: u64,
    /// In the search trees for the fewest columns.
    pub(crate) tree: u64,
    /// In the search trees for the cheapest of the fewest columns.
    pub(crate) cost_tree: u64,
    /// Covers with more columns are of no use: whether they could be smaller isn't worth a search.
    pub(crate) useful: u64,
    /// When no tree is searched any further.
    pub(crate) limit: Limit,
}

impl Budget {
    /// So much work, at any time.
    pub(crate) const fn steps(swaps: u64, tree: u64) -> Budget {
        Budget { swaps, tree, cost_tree: 0, useful: u64::MAX, limit: Limit::NONE }
    }
}

/// A cover and how good it may be.
#[derive(Clone, Debug, Default)]
pub(crate) struct Solution {
    /// The chosen columns by label, sorted.
    pub(crate) columns: Vec<u32>,
    /// No cover has fewer columns.
    pub(crate) least_columns: u64,
    /// What the chosen columns cost.
    pub(crate) cost: u64,
    /// No cover with as few columns as this one costs less. Zero if that wasn't looked at.
    pub(crate) least_cost: u64,
}

impl Solution {
    /// Whether no cover has fewer columns.
    pub(crate) fn is_smallest(&self) -> bool {
        self.least_columns >= self.columns.len() as u64
    }

    /// Adds what another, independent problem came to.
    fn join(&mut self, other: Solution) {
        let known = self.is_smallest() && other.is_smallest();
        self.columns.extend(other.columns);
        self.least_columns += other.least_columns;
        self.cost += other.cost;
        self.least_cost = if known { self.least_cost + other.least_cost } else { 0 };
    }
}

/// The cover with the fewest columns, and the cheapest of those, as far as the budget goes. `None` if some row has no
/// column.
pub(crate) fn solve(mut m: Matrix, mut budget: Budget) -> Option<Solution> {
    if m.is_impossible() {
        return None;
    }
    let mut columns = Vec::new();
    let cost = m.reduce(&mut columns);
    let mut all = Solution { least_columns: columns.len() as u64, columns, cost, least_cost: cost };
    let useful = budget.useful;
    for part in m.parts() {
        budget.useful = useful.saturating_sub(all.least_columns);
        if all.least_columns > useful {
            budget = Budget { useful: 0, ..Budget::steps(0, 0) };
        }
        all.join(solve_part(part, &mut budget));
    }
    all.columns.sort_unstable();
    Some(all)
}

fn solve_part(mut part: Matrix, budget: &mut Budget) -> Solution {
    let mut unit = part.clone();
    unit.cost.fill(1);
    let mut fewest = Vec::new();
    let mut least = unit.reduce(&mut fewest);
    let useful = budget.useful;
    for piece in unit.parts() {
        budget.useful = useful.saturating_sub(least);
        let (columns, lower) = fewest_columns(piece, budget);
        fewest.extend(columns);
        least += lower;
    }

    let at = |label: &u32| part.label.binary_search(label).unwrap_or(0) as u32;
    let mut cover: Vec<u32> = fewest.iter().map(at).collect();
    cheaper(&part, &mut cover);
    let named = |cover: &[u32], part: &Matrix| cover.iter().map(|&c| part.label[c as usize]).collect::<Vec<_>>();
    let (mut columns, mut cost) = (named(&cover, &part), part.cost_of(&cover));
    if least < columns.len() as u64 {
        return Solution { columns, least_columns: least, cost, least_cost: 0 };
    }

    number_rows(&mut part);
    let count = Some(least);
    let mut prices = Prices::start(&part);
    prices.improve(&part, count, cost, Pace { steps: 100, scale: 1.0 }, |_| cost);
    let mut least_cost = prices.lower();
    if least_cost < cost {
        let mut tree = Tree { upper: cost, best: None, count, work: &mut budget.cost_tree, limit: budget.limit };
        least_cost = least_cost.max(tree.search(part, &prices));
        cost = tree.upper;
        if let Some(best) = tree.best {
            columns = best;
        }
    }
    Solution { columns, least_columns: least, cost, least_cost: least_cost.min(cost) }
}

/// The fewest columns of a part whose columns cost one each, and what no cover is below.
fn fewest_columns(mut m: Matrix, budget: &mut Budget) -> (Vec<u32>, u64) {
    number_rows(&mut m);
    let plain = vec![1.0; m.columns.len()];
    let mut best = greedy(&m, &plain);
    let mut prices = Prices::start(&m);
    let upper = best.len() as u64;
    prices.improve(&m, None, upper, Pace { steps: 400, scale: 1.0 }, |prices| {
        let cover = greedy(&m, &prices.reduced);
        if cover.len() < best.len() {
            best = cover;
        }
        best.len() as u64
    });
    let mut lower = prices.lower().min(best.len() as u64);
    let mut columns: Vec<u32> = Vec::new();
    if lower > budget.useful {
        return (best.iter().map(|&c| m.label[c as usize]).collect(), lower);
    }
    for (seed, effort, first_tree) in [(1, SWAP_EFFORT, FIRST_TREE), (2, 10 * SWAP_EFFORT, u64::MAX)] {
        if lower < best.len() as u64 {
            let limit = budget.swaps.min(effort * m.rows.total() as u64);
            best = weighted(&m, &best, lower as usize, limit, &mut Xorshift::new(seed)).0;
        }
        columns = best.iter().map(|&c| m.label[c as usize]).collect();
        if lower < columns.len() as u64 {
            let mut work = budget.tree.min(first_tree);
            let given = work;
            let (upper, limit) = (columns.len() as u64, budget.limit);
            let mut tree = Tree { upper, best: None, count: None, work: &mut work, limit };
            lower = lower.max(tree.search(m.clone(), &prices));
            if let Some(found) = tree.best {
                best = found.iter().map(|l| m.label.binary_search(l).unwrap_or(0) as u32).collect();
                columns = found;
            }
            budget.tree -= given - work;
        }
    }
    let lower = lower.min(columns.len() as u64);
    (columns, lower)
}

/// Marks rows by position.
fn number_rows(m: &mut Matrix) {
    for (mark, at) in m.mark.iter_mut().zip(0..) {
        *mark = at;
    }
}
