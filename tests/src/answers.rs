//! An algebra of levels in 64 runs that answers at random what no sheet decides.
use std::collections::BTreeSet;

use gluewright_kernel::machine::{Algebra, Unknown};

use crate::gates::Numbers;

/// Sixty-four runs, in each of which what nobody knows is drawn.
#[derive(Debug)]
pub struct Answers {
    /// What answers are drawn from.
    pub draw: Numbers,
    /// What was asked.
    pub met: BTreeSet<Unknown>,
}

impl Algebra for Answers {
    type Value = u64;

    fn constant(&mut self, high: bool) -> u64 {
        if high { u64::MAX } else { 0 }
    }
    fn not(&mut self, a: u64) -> u64 {
        !a
    }
    fn and(&mut self, a: u64, b: u64) -> u64 {
        a & b
    }
    fn or(&mut self, a: u64, b: u64) -> u64 {
        a | b
    }
    fn xor(&mut self, a: u64, b: u64) -> u64 {
        a ^ b
    }
    fn choose(&mut self, when: u64, then: u64, otherwise: u64) -> u64 {
        (when & then) | (!when & otherwise)
    }
    fn unknown(&mut self, site: Unknown, when: u64, usual: u64) -> u64 {
        if when != 0 {
            self.met.insert(site);
        }
        let any = self.word();
        (when & any) | (!when & usual)
    }
}

impl Answers {
    /// Answers from these numbers; nothing was asked yet.
    pub fn drawn(draw: Numbers) -> Answers {
        Answers { draw, met: BTreeSet::new() }
    }

    /// Sixty-four drawn levels.
    pub fn word(&mut self) -> u64 {
        (0..4).fold(0, |word, _| word << 16 | self.draw.below(1 << 16) as u64)
    }
}
