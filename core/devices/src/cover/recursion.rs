//! Operations on sums of terms by splitting on one input at a time: what a sum leaves open, its complement, its primes.
//! Inputs that all terms read at one level need no split (textbooks call it the unate recursive paradigm).
use super::cube::{Cube, bits};

/// How often each input is asked to be high and to be low.
struct Use {
    high: [u32; 64],
    low: [u32; 64],
    inputs: u64,
}

fn usage(cubes: &[Cube]) -> Use {
    let mut u = Use { high: [0; 64], low: [0; 64], inputs: 0 };
    for c in cubes {
        u.inputs |= c.care();
        bits(c.positive()).for_each(|i| u.high[i as usize] += 1);
        bits(c.negative()).for_each(|i| u.low[i as usize] += 1);
    }
    u
}

impl Use {
    fn count(&self, input: u32) -> u32 {
        self.high[input as usize] + self.low[input as usize]
    }

    /// The input that most terms read at the level that the other terms don't ask for, and that level.
    fn one_sided(&self) -> Option<(u32, bool)> {
        let mut sides = bits(self.inputs).filter(|&i| self.high[i as usize] == 0 || self.low[i as usize] == 0);
        let first = sides.next()?;
        let best = sides.fold(first, |a, b| if self.count(b) > self.count(a) { b } else { a });
        Some((best, self.high[best as usize] > 0))
    }

    /// The input that most terms read, one that both sides read if there is one.
    fn busiest(&self) -> Option<u32> {
        bits(self.inputs).max_by_key(|&i| {
            let (h, l) = (self.high[i as usize], self.low[i as usize]);
            (h.min(l) > 0, h + l, h.min(l))
        })
    }
}

fn cofactor(cubes: &[Cube], by: Cube) -> Vec<Cube> {
    cubes.iter().filter_map(|c| c.cofactor(by)).collect()
}

/// A part of `cube` where none of `cover` holds, or `None` if `cover` holds everywhere in `cube`.
pub(super) fn gap(cube: Cube, cover: &[Cube]) -> Option<Cube> {
    let mut found = None;
    each_gap(cofactor(cover, cube), cube, &mut |part| {
        found = Some(part);
        false
    });
    found
}

/// Calls `visit` with disjoint parts of `cube` where none of `cover` holds, until it says false; together they are all
/// of it. Returns false if it was stopped.
pub(super) fn gaps(cube: Cube, cover: &[Cube], visit: &mut impl FnMut(Cube) -> bool) -> bool {
    each_gap_all(cofactor(cover, cube), cube, visit)
}

/// Like [`gaps`], but only some gap of each region: a one-sided input is set to the level that no term asks for.
fn each_gap(mut cubes: Vec<Cube>, mut path: Cube, visit: &mut impl FnMut(Cube) -> bool) -> bool {
    loop {
        if cubes.is_empty() {
            return visit(path);
        }
        if cubes.iter().any(|c| c.care() == 0) {
            return true;
        }
        let u = usage(&cubes);
        if let Some((input, high)) = u.one_sided() {
            path = with(path, input, !high);
            cubes.retain(|c| c.care() >> input & 1 == 0);
            continue;
        }
        let Some(input) = u.busiest() else { return true };
        return each_gap(cofactor(&cubes, Cube::literal(input, false)), with(path, input, false), visit)
            && each_gap(cofactor(&cubes, Cube::literal(input, true)), with(path, input, true), visit);
    }
}

fn each_gap_all(cubes: Vec<Cube>, path: Cube, visit: &mut impl FnMut(Cube) -> bool) -> bool {
    if cubes.is_empty() {
        return visit(path);
    }
    if cubes.iter().any(|c| c.care() == 0) {
        return true;
    }
    let Some(input) = usage(&cubes).busiest() else { return true };
    each_gap_all(cofactor(&cubes, Cube::literal(input, false)), with(path, input, false), visit)
        && each_gap_all(cofactor(&cubes, Cube::literal(input, true)), with(path, input, true), visit)
}

fn with(path: Cube, input: u32, high: bool) -> Cube {
    path.intersection(Cube::literal(input, high)).unwrap_or(path)
}

/// Without terms that lie within another one.
pub(super) fn absorb(mut cubes: Vec<Cube>) -> Vec<Cube> {
    cubes.sort_unstable_by_key(|c| (c.literals(), *c));
    cubes.dedup();
    let mut kept: Vec<Cube> = Vec::with_capacity(cubes.len());
    for c in cubes {
        if !kept.iter().any(|k| k.contains(c)) {
            kept.push(c);
        }
    }
    kept
}

/// A sum of terms that holds where `cubes` don't; `None` if it needs more than `limit` on the way.
pub(super) fn complement(cubes: &[Cube], limit: usize) -> Option<Vec<Cube>> {
    if cubes.is_empty() {
        return Some(vec![Cube::ONE]);
    }
    if cubes.iter().any(|c| c.care() == 0) {
        return Some(Vec::new());
    }
    if let [c] = cubes {
        return Some(bits(c.care()).map(|i| Cube::literal(i, c.value() >> i & 1 == 0)).collect());
    }
    let input = usage(cubes).busiest()?;
    let (low, high) = (Cube::literal(input, false), Cube::literal(input, true));
    let zero = complement(&absorb(cofactor(cubes, low)), limit)?;
    let one = complement(&absorb(cofactor(cubes, high)), limit)?;
    let mut all = Vec::with_capacity(zero.len() + one.len());
    // what holds on both sides doesn't need the input
    for (mine, others, side) in [(&zero, &one, low), (&one, &zero, high)] {
        for &c in mine {
            let lifted = others.len() < 2000 && others.iter().any(|o| o.contains(c));
            all.push(if lifted { c } else { c.intersection(side).unwrap_or(c) });
        }
    }
    let all = if all.len() <= 4000 { absorb(all) } else { all };
    (all.len() <= limit).then_some(all)
}

/// All primes of a sum of terms; `None` if more than `limit` come up on the way.
pub(super) fn primes(cubes: &[Cube], limit: usize) -> Option<Vec<Cube>> {
    if cubes.iter().any(|c| c.care() == 0) {
        return Some(vec![Cube::ONE]);
    }
    let both = |u: &Use, i: u32| u.high[i as usize] > 0 && u.low[i as usize] > 0;
    let u = usage(cubes);
    let input = match u.busiest() {
        Some(i) if both(&u, i) => i,
        // in a sum that asks for each input at one level only, every prime stands as a term
        _ => return (cubes.len() <= limit).then(|| absorb(cubes.to_vec())),
    };
    let (low, high) = (Cube::literal(input, false), Cube::literal(input, true));
    let zero = primes(&absorb(cofactor(cubes, low)), limit)?;
    let one = primes(&absorb(cofactor(cubes, high)), limit)?;
    if zero.len().saturating_mul(one.len()) > limit.saturating_mul(200) {
        return None;
    }
    let joint = zero.iter().flat_map(|z| one.iter().filter_map(|o| z.intersection(*o))).collect();
    let mut all = absorb(joint);
    let both = all.len();
    for (side, list) in [(low, zero), (high, one)] {
        for c in list {
            if !all[..both].iter().any(|b| b.contains(c)) {
                all.push(c.intersection(side).unwrap_or(c));
            }
        }
    }
    (all.len() <= limit).then_some(all)
}
