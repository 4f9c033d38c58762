//! All prime implicants: of a truth table by words, of a list of terms by recursion.
use super::cube::{Cube, bits};
use super::table::{HIGH, Table};

/// All primes of `upper` that hold somewhere in `needed`, or `None` if there are more than `limit`.
///
/// The table of implicants has one bit for each of the 3ⁿ cubes. The lowest six inputs live in words: word `d` of a
/// leaf has bit `m` set if the cube with the inputs of `d` free and the others as in `m` is an implicant. The other
/// inputs are ternary digits of the leaf's number: low, high, free.
pub(super) fn of_table(upper: &Table, needed: &Table, limit: usize) -> Option<Vec<Cube>> {
    let inputs = upper.inputs;
    let low = inputs.min(6);
    let high = inputs - low;
    let width = 1usize << low;
    let power: Vec<usize> = (0..=high).map(|i| 3usize.pow(i)).collect();
    let leaves = power[high as usize];

    // the words with no low input free: combine two leaves wherever a digit says free
    let mut base = vec![0u64; leaves];
    let mut digits = vec![0u8; high as usize];
    for leaf in 0..leaves {
        base[leaf] = match digits.iter().position(|&d| d == 2) {
            Some(i) => base[leaf - power[i]] & base[leaf - 2 * power[i]],
            None => upper.words[digits.iter().enumerate().fold(0, |at, (i, &d)| at | usize::from(d) << i)],
        };
        step(&mut digits);
    }

    let mut implicants = vec![0u64; leaves * width];
    for (leaf, &word) in implicants.chunks_exact_mut(width).zip(&base) {
        leaf[0] = word;
        if word == 0 {
            continue;
        }
        for free in 1..width {
            let top = free.ilog2();
            let without = leaf[free ^ 1 << top];
            leaf[free] = without & (without >> (1 << top)) & !HIGH[top as usize];
        }
    }

    let mut primes = Vec::new();
    digits.fill(0);
    for leaf in 0..leaves {
        if base[leaf] != 0 {
            let value = digits.iter().enumerate().fold(0u64, |v, (i, &d)| v | u64::from(d == 1) << (6 + i));
            let care = digits.iter().enumerate().fold(0u64, |v, (i, &d)| v | u64::from(d != 2) << (6 + i));
            let here = &implicants[leaf * width..][..width];
            for free in 0..width {
                let mut prime = here[free] & bound_bits(free, low);
                for i in 0..low {
                    if free >> i & 1 == 0 {
                        let larger = here[free | 1 << i];
                        prime &= !(larger | larger << (1 << i));
                    }
                }
                for (i, &digit) in digits.iter().enumerate() {
                    if prime == 0 {
                        break;
                    }
                    if digit != 2 {
                        prime &= !implicants[(leaf + (2 - digit as usize) * power[i]) * width + free];
                    }
                }
                let care = care | (width as u64 - 1) & !(free as u64);
                for m in bits(prime) {
                    let cube = Cube::reading(care, value | u64::from(m));
                    if needed.meets(cube) {
                        if primes.len() == limit {
                            return None;
                        }
                        primes.push(cube);
                    }
                }
            }
        }
        step(&mut digits);
    }
    Some(primes)
}

/// The bits of a leaf's word that stand for a cube: those with the free inputs low, once each.
fn bound_bits(free: usize, low: u32) -> u64 {
    let all = if low < 6 { (1u64 << (1u32 << low)) - 1 } else { u64::MAX };
    bits(free as u64).fold(all, |word, i| word & !HIGH[i as usize])
}

/// Adds one to a number in base three.
fn step(digits: &mut [u8]) {
    for d in digits {
        *d = (*d + 1) % 3;
        if *d != 0 {
            break;
        }
    }
}
