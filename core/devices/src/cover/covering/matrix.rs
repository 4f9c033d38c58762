//! The covering matrix and what shrinks it without losing a cheapest cover: essential columns, dominated rows and
//! columns (E. J. McCluskey, "Minimization of Boolean functions", Bell System Technical Journal 1956), independent parts.
use super::lists::Lists;

/// Rows that must each be covered by one of their columns. Lists are sorted. `label` is the caller's number of a
/// column, `mark` that of a row; both stay when the matrix shrinks.
#[derive(Clone, Debug, Default)]
pub(crate) struct Matrix {
    pub(crate) rows: Lists,
    pub(crate) columns: Lists,
    pub(crate) cost: Vec<u32>,
    pub(crate) label: Vec<u32>,
    pub(crate) mark: Vec<u32>,
}

impl Matrix {
    /// The matrix of these rows, each a sorted list of column numbers without repetitions.
    pub(crate) fn new(rows: Lists, cost: Vec<u32>) -> Matrix {
        let label = (0..cost.len() as u32).collect();
        let mark = (0..rows.len() as u32).collect();
        let columns = rows.turned(cost.len());
        Matrix { rows, columns, cost, label, mark }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Whether some row has no column left: then there is no cover.
    pub(crate) fn is_impossible(&self) -> bool {
        self.rows.iter().any(<[u32]>::is_empty)
    }

    /// The cost of some columns.
    pub(crate) fn cost_of(&self, columns: &[u32]) -> u64 {
        columns.iter().map(|&c| u64::from(self.cost[c as usize])).sum()
    }

    /// Keeps some rows and columns. Columns without rows go.
    pub(crate) fn keep(&mut self, row: impl Fn(usize) -> bool, column: impl Fn(usize) -> bool) {
        let mut number = vec![u32::MAX; self.columns.len()];
        let mut mark = Vec::with_capacity(self.rows.len());
        for (r, list) in self.rows.iter().enumerate().filter(|(r, _)| row(*r)) {
            mark.push(self.mark[r]);
            for &c in list {
                number[c as usize] = 0;
            }
        }
        let (mut cost, mut label) = (Vec::new(), Vec::new());
        for (c, number) in number.iter_mut().enumerate() {
            if *number == 0 && column(c) {
                *number = cost.len() as u32;
                cost.push(self.cost[c]);
                label.push(self.label[c]);
            } else {
                *number = u32::MAX;
            }
        }
        let kept = self.rows.iter().enumerate().filter(|(r, _)| row(*r));
        let rows: Lists =
            kept.map(|(_, list)| list.iter().map(|&c| number[c as usize]).filter(|&c| c != u32::MAX)).collect();
        let columns = rows.turned(cost.len());
        *self = Matrix { rows, columns, cost, label, mark };
    }

    /// Takes columns into the cover (their labels go to `chosen`): their rows are done. Returns their cost.
    pub(crate) fn choose(&mut self, columns: &[u32], chosen: &mut Vec<u32>) -> u64 {
        let mut done = vec![false; self.rows.len()];
        for &c in columns {
            chosen.push(self.label[c as usize]);
            for &r in self.columns.at(c as usize) {
                done[r as usize] = true;
            }
        }
        let cost = self.cost_of(columns);
        self.keep(|r| !done[r], |_| true);
        cost
    }

    /// Shrinks until nothing more goes; essential columns are added to `chosen`. Returns their cost.
    pub(crate) fn reduce(&mut self, chosen: &mut Vec<u32>) -> u64 {
        let mut spent = 0;
        loop {
            let mut essential: Vec<u32> =
                self.rows.iter().filter_map(|r| if let [c] = r { Some(*c) } else { None }).collect();
            if !essential.is_empty() {
                essential.sort_unstable();
                essential.dedup();
                spent += self.choose(&essential, chosen);
            }
            let rows = self.dominated_rows();
            if rows.contains(&true) {
                self.keep(|r| !rows[r], |_| true);
            }
            let columns = self.dominated_columns();
            if columns.contains(&true) {
                self.keep(|_| true, |c| !columns[c]);
            } else if self.rows.iter().all(|r| r.len() != 1) {
                return spent;
            }
        }
    }

    /// Rows that are covered whenever some other row is.
    fn dominated_rows(&self) -> Vec<bool> {
        let sign: Vec<u64> = self.rows.iter().map(signature).collect();
        let mut gone = vec![false; self.rows.len()];
        for (r, list) in self.rows.iter().enumerate() {
            if gone[r] {
                continue;
            }
            let Some(rare) = list.iter().min_by_key(|&&c| self.columns.size(c as usize)) else { continue };
            for &other in self.columns.at(*rare as usize) {
                let o = other as usize;
                if o != r && sign[r] & !sign[o] == 0 && !gone[o] && within(list, self.rows.at(o)) {
                    gone[o] = true;
                }
            }
        }
        gone
    }

    /// Columns for which another one covers at least the same rows and costs no more. Of equals the first stays.
    fn dominated_columns(&self) -> Vec<bool> {
        let sign: Vec<u64> = self.columns.iter().map(signature).collect();
        let mut gone = vec![false; self.columns.len()];
        for c in (0..self.columns.len()).rev() {
            let list = self.columns.at(c);
            let Some(rare) = list.iter().min_by_key(|&&r| self.rows.size(r as usize)) else { continue };
            gone[c] = self.rows.at(*rare as usize).iter().any(|&other| {
                let o = other as usize;
                o != c
                    && sign[c] & !sign[o] == 0
                    && self.cost[o] <= self.cost[c]
                    && !gone[o]
                    && within(list, self.columns.at(o))
            });
        }
        gone
    }

    /// The independent parts, smallest first: no row of one shares a column with another.
    pub(crate) fn parts(self) -> Vec<Matrix> {
        let mut part = vec![u32::MAX; self.rows.len()];
        let mut seen = vec![false; self.columns.len()];
        let mut count = 0;
        let mut stack = Vec::new();
        for first in 0..self.rows.len() {
            if part[first] != u32::MAX {
                continue;
            }
            part[first] = count;
            stack.push(first);
            while let Some(r) = stack.pop() {
                for &c in self.rows.at(r) {
                    if std::mem::replace(&mut seen[c as usize], true) {
                        continue;
                    }
                    for &next in self.columns.at(c as usize) {
                        if part[next as usize] == u32::MAX {
                            part[next as usize] = count;
                            stack.push(next as usize);
                        }
                    }
                }
            }
            count += 1;
        }
        if count <= 1 {
            return if self.is_empty() { Vec::new() } else { vec![self] };
        }
        let mut parts: Vec<Matrix> = (0..count)
            .map(|p| {
                let mut m = self.clone();
                m.keep(|r| part[r] == p, |_| true);
                m
            })
            .collect();
        parts.sort_by_key(|m| m.rows.len());
        parts
    }
}

/// A set of 64 classes that a list touches: a list within another touches no other class.
fn signature(list: &[u32]) -> u64 {
    list.iter().fold(0, |s, &i| s | 1 << (i.wrapping_mul(0x9e37_79b1) >> 26))
}

/// Whether a sorted list is within another.
fn within(list: &[u32], wide: &[u32]) -> bool {
    if list.len() > wide.len() {
        return false;
    }
    let mut at = 0;
    list.iter().all(|&i| {
        while wide.get(at).is_some_and(|&w| w < i) {
            at += 1;
        }
        wide.get(at) == Some(&i)
    })
}
