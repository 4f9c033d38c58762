//! Lower bounds from prices on rows (Lagrangian relaxation, improved by subgradient steps; M. L. Fisher, "The Lagrangian
//! relaxation method for solving integer programming problems", Management Science 1981), which also show columns that
//! no better cover can use and columns that every better cover must.
use super::matrix::Matrix;

/// Sums of a few thousand prices err by far less than this.
const SLACK: f64 = 1e-6;

/// How prices are improved.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pace {
    /// Steps that are always done.
    pub(crate) steps: u32,
    /// The first step's length.
    pub(crate) scale: f64,
}

/// A price for each row, and what follows from it.
#[derive(Clone, Debug)]
pub(crate) struct Prices {
    /// What covering the row is worth.
    pub(crate) row: Vec<f64>,
    /// What using any column is worth: the price of the condition on their number.
    each: f64,
    /// The cost of each column less the prices of its rows.
    pub(crate) reduced: Vec<f64>,
    /// No cover costs less.
    pub(crate) bound: f64,
}

impl Prices {
    /// The integer that no cover is below.
    pub(crate) fn lower(&self) -> u64 {
        (self.bound - SLACK).ceil().max(0.0) as u64
    }

    /// First prices: each row is worth the cheapest share of a column, then raised while no column is overpaid.
    pub(crate) fn start(m: &Matrix) -> Prices {
        let share: Vec<f64> =
            m.columns.iter().zip(&m.cost).map(|(c, &cost)| f64::from(cost) / c.len() as f64).collect();
        let row = m.rows.iter().map(|r| r.iter().map(|&c| share[c as usize]).fold(f64::INFINITY, f64::min)).collect();
        let mut prices = Prices { row, each: 0.0, reduced: Vec::new(), bound: 0.0 };
        prices.evaluate(m, None);
        let mut order: Vec<usize> = (0..m.rows.len()).collect();
        order.sort_by_key(|&r| m.rows.size(r));
        for r in order {
            let list = m.rows.at(r);
            let room = list.iter().map(|&c| prices.reduced[c as usize]).fold(f64::INFINITY, f64::min);
            if room > 0.0 {
                prices.row[r] += room;
                for &c in list {
                    prices.reduced[c as usize] -= room;
                }
            }
        }
        prices.evaluate(m, None);
        prices
    }

    /// Prices carried over from a larger matrix, by mark; the last is the price of the number of columns.
    pub(crate) fn carried(m: &Matrix, count: Option<u64>, store: &[f64]) -> Prices {
        let row = m.mark.iter().map(|&r| store[r as usize]).collect();
        let each = store.last().copied().unwrap_or(0.0);
        let mut prices = Prices { row, each, reduced: Vec::new(), bound: 0.0 };
        prices.evaluate(m, count);
        prices
    }

    /// Keeps the prices by mark.
    pub(crate) fn store(&self, m: &Matrix, store: &mut [f64]) {
        for (&mark, &price) in m.mark.iter().zip(&self.row) {
            store[mark as usize] = price;
        }
        if let Some(last) = store.last_mut() {
            *last = self.each;
        }
    }

    /// Recomputes reduced costs and the bound.
    fn evaluate(&mut self, m: &Matrix, count: Option<u64>) {
        self.reduced.clear();
        let each = self.each;
        self.reduced.extend(m.cost.iter().map(|&c| f64::from(c) - each));
        for (r, &price) in m.rows.iter().zip(&self.row) {
            if price > 0.0 {
                for &c in r {
                    self.reduced[c as usize] -= price;
                }
            }
        }
        self.sum(count);
    }

    fn sum(&mut self, count: Option<u64>) {
        let number = count.map_or(0.0, |n| self.each * n as f64);
        self.bound = self.row.iter().sum::<f64>() + number + self.reduced.iter().map(|&c| c.min(0.0)).sum::<f64>();
    }

    /// Moves the prices towards a better bound. `count` says that only covers of exactly so many columns matter; `upper` is the cost of the best cover known. Stops when the bound
    /// reaches it or stops moving. Calls `look` now and then, which returns the cost of the best cover by then.
    /// Returns how many matrix entries it looked at.
    pub(crate) fn improve(
        &mut self,
        m: &Matrix,
        count: Option<u64>,
        mut upper: u64,
        pace: Pace,
        mut look: impl FnMut(&Prices) -> u64,
    ) -> u64 {
        const MOMENTUM: f64 = 0.7;
        const PATIENCE: u32 = 20;
        let mut best = self.clone();
        let (mut scale, mut stale, mut work) = (pace.scale, 0, 0);
        let mut last = self.bound;
        let mut open = vec![0i32; m.rows.len()];
        let mut direction = vec![0.0f64; m.rows.len()];
        for step in 1..2000 {
            if best.lower() >= upper || scale < 0.004 {
                break;
            }
            // what the columns that pay for themselves leave open, or cover more than once
            open.fill(1);
            let mut used = 0.0;
            for (c, _) in self.reduced.iter().enumerate().filter(|(_, c)| **c < 0.0) {
                used += 1.0;
                let rows = m.columns.at(c);
                work += rows.len() as u64;
                for &r in rows {
                    open[r as usize] -= 1;
                }
            }
            let mut norm = 0.0;
            for ((&open, &price), d) in open.iter().zip(&self.row).zip(&mut direction) {
                let toward = MOMENTUM * *d + f64::from(open);
                *d = if toward < 0.0 && price <= 0.0 { 0.0 } else { toward };
                norm += *d * *d;
            }
            let number = count.map_or(0.0, |n| n as f64 - used);
            norm += number * number;
            if norm == 0.0 {
                break;
            }
            let length = scale * (upper as f64 * 1.02 - self.bound).max(0.1) / norm;
            for (r, (&d, price)) in direction.iter().zip(&mut self.row).enumerate() {
                if d != 0.0 {
                    let new = (*price + length * d).max(0.0);
                    let change = new - *price;
                    *price = new;
                    let columns = m.rows.at(r);
                    work += columns.len() as u64;
                    for &c in columns {
                        self.reduced[c as usize] -= change;
                    }
                }
            }
            if number != 0.0 {
                let change = length * number;
                self.each += change;
                self.reduced.iter_mut().for_each(|c| *c -= change);
            }
            self.sum(count);
            if self.bound > best.bound + 1e-4 {
                best.clone_from(self);
                stale = 0;
            } else {
                stale += 1;
                if stale >= PATIENCE {
                    stale = 0;
                    scale /= 1.7;
                    self.clone_from(&best);
                    direction.fill(0.0);
                }
            }
            if step % 20 == 0 {
                if step >= pace.steps && best.bound - last < 0.02 * (upper as f64 - best.bound) {
                    break;
                }
                last = best.bound;
                upper = upper.min(look(self));
            }
        }
        // the running sums have drifted a little: what is returned is exact for these prices
        self.row = best.row;
        self.each = best.each;
        self.evaluate(m, count);
        work + m.rows.total() as u64
    }
}
