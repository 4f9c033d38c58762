//! Choosing terms when there are too many minterms to list: a few places that must be held, then more where the choice
//! still leaves something open.
use super::covering::{Budget, Lists, Matrix, Solution, solve};
use super::cube::{Cube, bits, mask};
use super::recursion;

/// Terms that hold everything asked for.
#[derive(Debug)]
pub(super) struct Choice {
    /// The chosen terms.
    pub(super) cubes: Vec<Cube>,
    /// How good the choice is among the terms that there were.
    pub(super) solution: Solution,
    /// Places of which each must be inside one term.
    pub(super) rows: Vec<Cube>,
}

/// Rounds with a small budget before every round gets the full one.
const ROUGH: Budget = Budget::steps(200_000, 100_000);

/// The fewest of `columns` such that each of `rows` lies within one of them or of `given`, and `missing` has nothing to
/// add. `missing` sees the terms, given and chosen, and returns places that must be inside one term and aren't; it may
/// add columns for them. `None` if a place has no column, or none that `missing` is content with.
pub(super) fn choose(
    columns: &mut Vec<Cube>,
    given: &[Cube],
    mut rows: Vec<Cube>,
    budget: Budget,
    mut missing: impl FnMut(&[Cube], &mut Vec<Cube>) -> Vec<Cube>,
) -> Option<Choice> {
    rows.retain(|&r| !given.iter().any(|g| g.contains(r)));
    let mut full = false;
    loop {
        let mut lists = Lists::default();
        for &row in &rows {
            lists.push((0u32..).zip(columns.iter()).filter(|(_, c)| c.contains(row)).map(|(at, _)| at));
        }
        let matrix = Matrix::new(lists, columns.iter().map(|c| c.literals()).collect());
        let solution = solve(matrix, if full { budget } else { ROUGH })?;
        let cubes: Vec<Cube> = solution.columns.iter().map(|&c| columns[c as usize]).collect();
        let more = missing(&[given, &cubes].concat(), columns);
        if !more.is_empty() {
            // a place that comes up again would come up for ever
            let before = rows.len();
            rows.extend(more);
            let (old, new) = rows.split_at(before);
            if new.iter().all(|r| old.contains(r)) {
                return None;
            }
            full = false;
        } else if full || solution.is_smallest() && solution.least_cost >= solution.cost {
            return Some(Choice { cubes, solution, rows });
        } else {
            full = true;
        }
    }
}

/// What of `regions` no term of `terms` holds without reading an input of `changing`: a few places, each a minterm of the
/// other inputs, and such that few columns hold it.
pub(super) fn open_places(inputs: u32, regions: &[Cube], changing: u64, terms: &[Cube], columns: &[Cube]) -> Vec<Cube> {
    let steady = |cubes: &[Cube]| cubes.iter().copied().filter(|c| c.care() & changing == 0).collect::<Vec<_>>();
    let (terms, columns) = (steady(terms), steady(columns));
    let mut places = Vec::new();
    let mut held = terms;
    for region in regions {
        let region = region.without(changing);
        // a place that was found stands for others that the same columns would hold
        if let Some(open) = recursion::gap(region, &held) {
            let place = Cube::reading(mask(inputs) & !changing, settle(open, &columns).value());
            held.extend(columns.iter().filter(|c| c.contains(place)));
            places.push(place);
        }
    }
    places
}

/// A part of `place` that every column holds all or nothing of, and few hold all.
fn settle(mut place: Cube, columns: &[Cube]) -> Cube {
    let mut partial: Vec<Cube> = columns.to_vec();
    loop {
        partial.retain(|c| c.meets(place) && !c.contains(place));
        let mut count = [[0u32; 2]; 64];
        let mut best: Option<(u32, u32, bool)> = None;
        for c in &partial {
            for i in bits(c.care() & !place.care()) {
                let high = c.value() >> i & 1 == 1;
                let n = &mut count[i as usize][usize::from(high)];
                *n += 1;
                if best.is_none_or(|b| *n > b.0) {
                    best = Some((*n, i, high));
                }
            }
        }
        let Some((_, input, high)) = best else { return place };
        place = place.intersection(Cube::literal(input, !high)).unwrap_or(place);
    }
}
