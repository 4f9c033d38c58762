//! Truth tables as bit sets: one bit for each minterm.
use super::cube::{Cube, mask};

/// The most inputs that a truth table is made for: 2²⁰ bits are 128 KiB.
pub(super) const MAX_TABLE_INPUTS: u32 = 20;

/// The most inputs for which all 3ⁿ cubes are looked at.
pub(super) const MAX_DENSE_INPUTS: u32 = 16;

/// The minterms of six inputs at which input `i` is high.
pub(super) const HIGH: [u64; 6] = [
    0xaaaa_aaaa_aaaa_aaaa,
    0xcccc_cccc_cccc_cccc,
    0xf0f0_f0f0_f0f0_f0f0,
    0xff00_ff00_ff00_ff00,
    0xffff_0000_ffff_0000,
    0xffff_ffff_0000_0000,
];

/// A function of up to [`MAX_TABLE_INPUTS`] inputs, one bit for each minterm. Below six inputs the word repeats
/// itself, so that every operation works on whole words.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Table {
    pub(super) inputs: u32,
    pub(super) words: Vec<u64>,
}

/// The mask of the lowest six inputs that a cube holds at.
fn low_word(cube: Cube) -> u64 {
    let mut word = u64::MAX;
    for (i, high) in HIGH.iter().enumerate() {
        if cube.care() >> i & 1 == 1 {
            word &= if cube.value() >> i & 1 == 1 { *high } else { !high };
        }
    }
    word
}

impl Table {
    /// The function that is low everywhere. `inputs` is at most [`MAX_TABLE_INPUTS`].
    pub(super) fn zero(inputs: u32) -> Table {
        debug_assert!(inputs <= MAX_TABLE_INPUTS);
        Table { inputs, words: vec![0; 1 << inputs.saturating_sub(6)] }
    }

    /// The function that is the sum of some terms.
    pub(super) fn of(inputs: u32, cubes: &[Cube]) -> Table {
        let mut table = Table::zero(inputs);
        for &cube in cubes {
            for_each_word(inputs, cube, |at, word| table.words[at] |= word);
        }
        table
    }

    /// The function with these levels at minterms 0, 1, 2, …
    pub(super) fn from_fn(inputs: u32, mut level: impl FnMut(u64) -> bool) -> Table {
        let mut table = Table::zero(inputs);
        for m in (0..1u64 << inputs).filter(|&m| level(m)) {
            table.set(m);
        }
        table.repeat();
        table
    }

    /// Sets the level at a minterm; [`Table::repeat`] must follow.
    pub(super) fn set(&mut self, minterm: u64) {
        self.words[(minterm >> 6) as usize] |= 1 << (minterm & 63);
    }

    /// Below six inputs, makes the word repeat itself.
    pub(super) fn repeat(&mut self) {
        for i in self.inputs..6 {
            let low = (1u64 << (1u32 << i)) - 1;
            self.words[0] = self.words[0] & low | (self.words[0] & low) << (1 << i);
        }
    }

    pub(super) fn get(&self, minterm: u64) -> bool {
        self.words[(minterm >> 6) as usize] >> (minterm & 63) & 1 == 1
    }

    pub(super) fn with(&self, other: &Table, op: impl Fn(u64, u64) -> u64) -> Table {
        Table { inputs: self.inputs, words: self.words.iter().zip(&other.words).map(|(&a, &b)| op(a, b)).collect() }
    }

    /// Takes out what a cube holds.
    pub(super) fn remove(&mut self, cube: Cube) {
        for_each_word(self.inputs, cube, |at, word| self.words[at] &= !word);
    }

    /// Whether a cube holds at any of its minterms.
    pub(super) fn meets(&self, cube: Cube) -> bool {
        any_word(self.inputs, cube, |at, word| self.words[at] & word != 0)
    }

    /// Whether it is high wherever the cube holds.
    pub(super) fn contains(&self, cube: Cube) -> bool {
        !any_word(self.inputs, cube, |at, word| !self.words[at] & word != 0)
    }

    /// Calls `visit` with every minterm at which both it and the cube are high.
    pub(super) fn for_each_in(&self, cube: Cube, mut visit: impl FnMut(u64)) {
        let limit = if self.inputs < 6 { (1u64 << (1u32 << self.inputs)) - 1 } else { u64::MAX };
        for_each_word(self.inputs, cube, |at, word| {
            let mut rest = word & self.words[at] & limit;
            while rest != 0 {
                visit((at as u64) << 6 | u64::from(rest.trailing_zeros()));
                rest &= rest - 1;
            }
        });
    }
}

/// Calls `visit` with each word of a table that the cube touches and the cube's bits there.
pub(super) fn for_each_word(inputs: u32, cube: Cube, mut visit: impl FnMut(usize, u64)) {
    any_word(inputs, cube, |at, word| {
        visit(at, word);
        false
    });
}

/// Whether `test` says yes for a word that the cube touches (and its bits there).
pub(super) fn any_word(inputs: u32, cube: Cube, mut test: impl FnMut(usize, u64) -> bool) -> bool {
    let word = low_word(cube);
    let base = (cube.value() >> 6) as usize;
    let free = (mask(inputs) >> 6 & !(cube.care() >> 6)) as usize;
    let mut sub = 0usize;
    loop {
        if test(base | sub, word) {
            return true;
        }
        sub = sub.wrapping_sub(free) & free;
        if sub == 0 {
            return false;
        }
    }
}

/// An irredundant sum of terms between two functions, `lower` below `upper`, split input by input
/// (S. Minato, "Fast generation of prime-irredundant covers from binary decision diagrams", IEICE Trans. 1993;
/// R. Morreale, "Recursive operators for prime implicant and irredundant normal form determination", 1970).
pub(super) fn irredundant(lower: &Table, upper: &Table) -> Vec<Cube> {
    let mut cubes = Vec::new();
    split(lower.inputs, &lower.words, &upper.words, Cube::ONE, &mut cubes);
    cubes
}

/// The words of the sum that it added to `cubes`.
fn split(inputs: u32, lower: &[u64], upper: &[u64], path: Cube, cubes: &mut Vec<Cube>) -> Vec<u64> {
    if lower.iter().all(|&w| w == 0) {
        return vec![0; lower.len()];
    }
    if upper.iter().all(|&w| w == u64::MAX) {
        cubes.push(path);
        return vec![u64::MAX; lower.len()];
    }
    let Some(top) = inputs.checked_sub(1) else { return vec![0; lower.len()] };
    let at = |high: bool| path.intersection(Cube::literal(top, high)).unwrap_or(path);
    let join = |a: &[u64], b: &[u64], op: fn(u64, u64) -> u64| -> Vec<u64> {
        a.iter().zip(b).map(|(&a, &b)| op(a, b)).collect()
    };
    let half = |words: &[u64], high: bool| -> Vec<u64> {
        if top >= 6 {
            let (low, up) = words.split_at(words.len() / 2);
            (if high { up } else { low }).to_vec()
        } else {
            let (keep, shift) = (HIGH[top as usize], 1 << top);
            let word = words.first().copied().unwrap_or(0);
            vec![if high { (word & keep) | (word & keep) >> shift } else { (word & !keep) | (word & !keep) << shift }]
        }
    };
    let (l0, l1) = (half(lower, false), half(lower, true));
    let (u0, u1) = (half(upper, false), half(upper, true));
    let r0 = split(top, &join(&l0, &u1, |l, u| l & !u), &u0, at(false), cubes);
    let r1 = split(top, &join(&l1, &u0, |l, u| l & !u), &u1, at(true), cubes);
    let rest = join(&join(&l0, &r0, |l, r| l & !r), &join(&l1, &r1, |l, r| l & !r), |a, b| a | b);
    let both = split(top, &rest, &join(&u0, &u1, |a, b| a & b), path, cubes);
    let (w0, w1) = (join(&r0, &both, |a, b| a | b), join(&r1, &both, |a, b| a | b));
    if top >= 6 {
        [w0, w1].concat()
    } else {
        join(&w0, &w1, |a, b| a | b)
            .iter()
            .zip(w0.iter().zip(&w1))
            .map(|(_, (a, b))| (a & !HIGH[top as usize]) | (b & HIGH[top as usize]))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn cubes_and_back(inputs in 0u32..9, seed: [u64; 8]) {
            let upper = Table::from_fn(inputs, |m| seed[(m / 64) as usize % 8] >> (m % 64) & 1 == 1);
            let lower = Table::from_fn(inputs, |m| upper.get(m) && m % 3 != 0);
            let cubes = irredundant(&lower, &upper);
            let sum = Table::of(inputs, &cubes);
            for m in 0..1 << inputs {
                prop_assert!(!lower.get(m) || sum.get(m));
                prop_assert!(!sum.get(m) || upper.get(m));
            }
            let all = irredundant(&upper, &upper);
            prop_assert_eq!(Table::of(inputs, &all), upper);
        }
    }
}
