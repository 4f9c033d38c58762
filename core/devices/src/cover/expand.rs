//! A cover without the list of all primes: terms are widened to primes in many orders, the best choice of them is
//! kept, cut back to what only it holds, and widened again.
use std::collections::BTreeSet;

use super::covering::Budget;
use super::cube::{Cube, bits, mask};
use super::lazy::{Choice, choose, open_places};
use super::recursion;
use super::table::{MAX_DENSE_INPUTS, Table};
use gluewright_kernel::random::Xorshift;

/// Where a function may be high.
#[derive(Debug)]
pub(super) enum Upper {
    /// As a truth table.
    Table(Table),
    /// As a sum of terms.
    Sum(Vec<Cube>),
}

impl Upper {
    /// The form that suits the number of inputs.
    pub(super) fn of(inputs: u32, allowed: Vec<Cube>) -> Upper {
        if inputs <= MAX_DENSE_INPUTS { Upper::Table(Table::of(inputs, &allowed)) } else { Upper::Sum(allowed) }
    }

    /// Whether it may be high everywhere in a cube.
    pub(super) fn contains(&self, cube: Cube) -> bool {
        match self {
            Upper::Table(table) => table.contains(cube),
            Upper::Sum(cubes) => recursion::gap(cube, cubes).is_none(),
        }
    }

    /// A prime around an implicant: literals are dropped in this order while it stays one.
    pub(super) fn widen(&self, cube: Cube, order: impl IntoIterator<Item = u32>) -> Cube {
        order.into_iter().fold(cube, |cube, input| {
            let wider = cube.without(1 << input);
            if wider != cube && self.contains(wider) { wider } else { cube }
        })
    }
}

/// What a round may spend on its choice.
const ROUND: Budget = Budget::steps(5_000_000, 2_000_000);

/// How often each round widens each term.
const WIDENINGS: usize = 3;

/// A cover of `on`: `rounds` rounds of improvement, and what was found to be held by no common term.
pub(super) fn cover(inputs: u32, on: &[Cube], upper: &Upper, rounds: u32) -> Option<Choice> {
    let mut random = Xorshift::new(7);
    let mut pool = BTreeSet::new();
    for &cube in on {
        for _ in 0..WIDENINGS {
            let order = order(cube, on, &mut random);
            pool.insert(upper.widen(cube, order));
        }
    }
    let mut rows = Vec::new();
    let mut best: Option<Choice> = None;
    let mut stale = 0;
    for round in 0..=rounds {
        let mut columns: Vec<Cube> = pool.iter().copied().collect();
        columns.sort_by_key(|c| c.literals());
        let missing = |terms: &[Cube], columns: &mut Vec<Cube>| open_places(inputs, on, 0, terms, columns);
        let found = choose(&mut columns, &[], rows, ROUND, missing)?;
        rows = found.rows.clone();
        let key = |c: &Choice| (c.cubes.len(), c.solution.cost);
        if best.as_ref().is_none_or(|b| key(&found) < key(b)) {
            best = Some(found);
            stale = 0;
        } else {
            stale += 1;
        }
        let terms = best.as_ref().map(|b| b.cubes.clone()).unwrap_or_default();
        if round == rounds || stale == 4 {
            break;
        }
        for &cube in on {
            // the cube itself, and one minterm of it: some primes hold only parts of terms
            let point = Cube::reading(mask(inputs), cube.value() | (random.word() & !cube.care()));
            for start in [cube, point] {
                let order = order(start, on, &mut random);
                pool.insert(upper.widen(start, order));
            }
        }
        for (at, &term) in terms.iter().enumerate() {
            let others: Vec<Cube> = terms.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, &c)| c).collect();
            for core in cores(term, on, &others) {
                for _ in 0..WIDENINGS {
                    let order = order(core, on, &mut random);
                    pool.insert(upper.widen(core, order));
                }
            }
        }
    }
    best
}

/// The smallest cube around what only this term holds, and one place of it alone.
fn cores(term: Cube, on: &[Cube], others: &[Cube]) -> Vec<Cube> {
    let mut around: Option<Cube> = None;
    let mut place = None;
    let mut left = 200;
    for part in on.iter().filter_map(|c| c.intersection(term)) {
        recursion::gaps(part, others, &mut |gap| {
            around = Some(around.map_or(gap, |a| a.supercube(gap)));
            place = Some(gap);
            left -= 1;
            left > 0
        });
        if left == 0 {
            // too many to see them all: the term stays as it is
            around = Some(term);
            break;
        }
    }
    around.into_iter().chain(place).collect()
}

/// An order in which to drop literals: first those in the way of many terms of `on`, with some chance.
fn order(cube: Cube, on: &[Cube], random: &mut Xorshift) -> Vec<u32> {
    let mut weight = [0usize; 64];
    for other in on {
        let conflicts = cube.conflicts(*other);
        if conflicts.count_ones() <= 3 {
            bits(conflicts).for_each(|i| weight[i as usize] += 1);
        }
    }
    if random.below(3) == 0 {
        weight.fill(0);
    }
    let most = weight.iter().max().copied().unwrap_or(0);
    let mut inputs: Vec<(usize, u32)> =
        bits(cube.care()).map(|i| (weight[i as usize] * 8 + random.below(most * 8 + 16), i)).collect();
    inputs.sort_unstable_by(|a, b| b.cmp(a));
    inputs.into_iter().map(|(_, i)| i).collect()
}

/// How many places at most are compared in pairs.
const PLACES: usize = 400;

/// A number of terms that every cover needs: places of which no two are inside one implicant.
pub(super) fn independent(rows: &[Cube], upper: &Upper) -> usize {
    let mut apart: Vec<Cube> = Vec::new();
    for &row in rows.iter().take(PLACES) {
        if apart.iter().all(|a| !upper.contains(a.supercube(row))) {
            apart.push(row);
        }
    }
    apart.len()
}
