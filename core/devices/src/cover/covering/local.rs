//! Covers without proof: greedy by prices, a local search for fewer columns, exchanges for cheaper ones.
use super::matrix::Matrix;
use gluewright_kernel::random::Xorshift;

/// A cover: columns that pay for themselves, then the one with the least reduced cost for each row it adds, again and
/// again; then without what is redundant, dearest first. `reduced` steers; plain costs give an ordinary greedy cover.
pub(crate) fn greedy(m: &Matrix, reduced: &[f64]) -> Vec<u32> {
    let mut count = vec![0u32; m.rows.len()];
    let mut gain: Vec<u32> = m.columns.iter().map(|c| c.len() as u32).collect();
    let mut left = m.rows.len();
    let mut chosen = Vec::new();
    let mut take = |c: usize, count: &mut [u32], gain: &mut [u32], left: &mut usize| {
        chosen.push(c as u32);
        for &r in m.columns.at(c) {
            count[r as usize] += 1;
            if count[r as usize] == 1 {
                *left -= 1;
                for &other in m.rows.at(r as usize) {
                    gain[other as usize] -= 1;
                }
            }
        }
    };
    for (c, _) in reduced.iter().enumerate().filter(|(_, price)| **price < 0.0) {
        take(c, &mut count, &mut gain, &mut left);
    }
    while left > 0 {
        let score = |c: usize| (reduced[c].max(0.0) + 0.02) / f64::from(gain[c]);
        let best = (0..gain.len()).filter(|&c| gain[c] > 0).min_by(|&a, &b| score(a).total_cmp(&score(b)));
        let Some(c) = best else { break };
        take(c, &mut count, &mut gain, &mut left);
    }
    chosen.sort_by(|&a, &b| {
        let (a, b) = (a as usize, b as usize);
        m.cost[b].cmp(&m.cost[a]).then(reduced[b].total_cmp(&reduced[a]))
    });
    chosen.retain(|&c| {
        let rows = m.columns.at(c as usize);
        let needed = rows.iter().any(|&r| count[r as usize] == 1);
        if !needed {
            rows.iter().for_each(|&r| count[r as usize] -= 1);
        }
        needed
    });
    chosen
}

/// Exchanges columns of a cover for cheaper ones, one for one, until none is left; what has become redundant goes.
pub(crate) fn cheaper(m: &Matrix, cover: &mut Vec<u32>) {
    let mut count = vec![0u32; m.rows.len()];
    for &c in cover.iter() {
        m.columns.at(c as usize).iter().for_each(|&r| count[r as usize] += 1);
    }
    let mut at = 0;
    let mut quiet = 0;
    while !cover.is_empty() && quiet < cover.len() {
        at %= cover.len();
        let old = cover[at] as usize;
        let mut alone = m.columns.at(old).iter().filter(|&&r| count[r as usize] == 1);
        let Some(&first) = alone.next() else {
            m.columns.at(old).iter().for_each(|&r| count[r as usize] -= 1);
            cover.swap_remove(at);
            quiet = 0;
            continue;
        };
        let fits = |c: u32| alone.clone().all(|r| m.columns.at(c as usize).binary_search(r).is_ok());
        let better = m.rows.at(first as usize).iter().copied().filter(|&c| m.cost[c as usize] < m.cost[old] && fits(c));
        if let Some(new) = better.min_by_key(|&c| m.cost[c as usize]) {
            m.columns.at(old).iter().for_each(|&r| count[r as usize] -= 1);
            m.columns.at(new as usize).iter().for_each(|&r| count[r as usize] += 1);
            cover[at] = new;
            quiet = 0;
        } else {
            quiet += 1;
        }
        at += 1;
    }
}

/// A cover, or what is nearly one, in a local search.
struct Swaps<'a> {
    m: &'a Matrix,
    weight: Vec<i64>,
    count: Vec<u32>,
    /// The weight of the rows that the column would newly cover, or that would be open without it.
    score: Vec<i64>,
    inside: Vec<bool>,
    /// When the column was last taken or dropped.
    moved: Vec<u64>,
    /// Whether a neighbour has changed since the column was dropped.
    fresh: Vec<bool>,
    solution: Vec<u32>,
    open: Vec<u32>,
    /// Where an open row stands in `open`.
    place: Vec<u32>,
    work: u64,
}

/// Local search with row weights for fewer columns, whatever they cost (C. Gao, X. Yao, T. Weise, J. Li, "An efficient
/// local search heuristic with row weighting for the unicost set covering problem", EJOR 2015): drop a column from a cover, then
/// swap columns while rows stay open; rows that stay open grow heavier. Returns when `target` columns suffice or when
/// `limit` matrix entries were looked at, with the number that it looked at.
pub(crate) fn weighted(m: &Matrix, start: &[u32], target: usize, limit: u64, random: &mut Xorshift) -> (Vec<u32>, u64) {
    let rows = m.rows.len();
    let mut s = Swaps {
        m,
        weight: vec![1; rows],
        count: vec![0; rows],
        score: m.columns.iter().map(|c| c.len() as i64).collect(),
        inside: vec![false; m.columns.len()],
        moved: vec![0; m.columns.len()],
        fresh: vec![true; m.columns.len()],
        solution: Vec::new(),
        open: (0..rows as u32).collect(),
        place: (0..rows as u32).collect(),
        work: 0,
    };
    let mut best = start.to_vec();
    for &c in start {
        s.add(c as usize, 0);
    }
    let mut last = u32::MAX;
    for now in 1.. {
        while s.open.is_empty() {
            best.clone_from(&s.solution);
            if best.len() <= target {
                return (best, s.work);
            }
            let Some(at) = s.lightest(u32::MAX) else { return (best, s.work) };
            s.drop(at, now);
        }
        if s.work >= limit {
            break;
        }
        if let Some(at) = s.lightest(last) {
            s.drop(at, now);
        }
        let r = s.open[random.below(s.open.len())] as usize;
        let key = |c: u32| (s.score[c as usize], u64::MAX - s.moved[c as usize]);
        if let Some(&c) = m.rows.at(r).iter().filter(|&&c| s.fresh[c as usize]).max_by_key(|&&c| key(c)) {
            s.add(c as usize, now);
            last = c;
        }
        for &r in &s.open {
            s.weight[r as usize] += 1;
            for &c in m.rows.at(r as usize) {
                s.score[c as usize] += 1;
            }
        }
        s.work += s.solution.len() as u64 / 4;
    }
    (best, s.work)
}

impl Swaps<'_> {
    fn add(&mut self, c: usize, now: u64) {
        self.inside[c] = true;
        self.moved[c] = now;
        self.solution.push(c as u32);
        self.score[c] = 0;
        for &r in self.m.columns.at(c) {
            let r = r as usize;
            self.count[r] += 1;
            let (count, weight, others) = (self.count[r], self.weight[r], self.m.rows.at(r));
            self.work += others.len() as u64;
            if count == 1 {
                self.score[c] += weight;
                let at = self.place[r] as usize;
                self.open.swap_remove(at);
                if let Some(&moved) = self.open.get(at) {
                    self.place[moved as usize] = at as u32;
                }
            }
            for &o in others {
                let o = o as usize;
                self.fresh[o] = true;
                if o != c && (count == 1 || count == 2 && self.inside[o]) {
                    self.score[o] -= weight;
                }
            }
        }
    }

    fn drop(&mut self, at: usize, now: u64) {
        let c = self.solution.swap_remove(at) as usize;
        self.inside[c] = false;
        self.moved[c] = now;
        self.score[c] = 0;
        for &r in self.m.columns.at(c) {
            let r = r as usize;
            self.count[r] -= 1;
            let (count, weight, others) = (self.count[r], self.weight[r], self.m.rows.at(r));
            self.work += others.len() as u64;
            if count == 0 {
                self.score[c] += weight;
                self.place[r] = self.open.len() as u32;
                self.open.push(r as u32);
            }
            for &o in others {
                let o = o as usize;
                self.fresh[o] = true;
                if o != c && (count == 0 || count == 1 && self.inside[o]) {
                    self.score[o] += weight;
                }
            }
        }
        self.fresh[c] = false;
    }

    /// The place of the column whose loss weighs least, the one that stood longest if several; not `tabu`.
    fn lightest(&self, tabu: u32) -> Option<usize> {
        let key = |c: u32| (self.score[c as usize], self.moved[c as usize]);
        let all = self.solution.iter().enumerate().filter(|(_, c)| **c != tabu);
        all.min_by_key(|(_, c)| key(**c)).map(|(at, _)| at)
    }
}
