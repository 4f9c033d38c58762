//! Sixty-four runs side by side, each with its own answers to what nobody knows.
use crate::machine::{Algebra, Unknown, sixty_four_runs};

/// Lanes in which the answer to each unknown is chosen, so that all of them can be tried one after the other.
///
/// A script says for the first unknown that a lane meets, the second and so on, whether the usual value is taken (0) or
/// the opposite (1).
#[derive(Clone, Debug)]
pub(super) struct Answers {
    pub(super) scripts: [u32; 64],
    /// How many unknowns each lane has met.
    pub(super) met: [u32; 64],
    /// Every unknown that occurred in some lane.
    pub(super) sites: Vec<(Unknown, u64)>,
    /// While a settled point is put together again, its floating nets have the levels that they had.
    pub(super) floating: Option<Vec<u64>>,
}

impl Answers {
    pub(super) fn new(scripts: [u32; 64]) -> Self {
        Answers { scripts, met: [0; 64], sites: Vec::new(), floating: None }
    }
}

/// A script has this many answers at most.
pub(super) const SCRIPT: u32 = 24;

impl Algebra for Answers {
    sixty_four_runs!();

    fn unknown(&mut self, site: Unknown, when: u64, usual: u64) -> u64 {
        if let (Unknown::Floating(n), Some(levels)) = (site, &self.floating) {
            return levels.get(n as usize).copied().unwrap_or(usual);
        }
        if when == 0 {
            return usual;
        }
        self.sites.push((site, when));
        let mut value = usual;
        let mut left = when;
        while left != 0 {
            let lane = left.trailing_zeros() as usize;
            left &= left - 1;
            let turn = self.met[lane];
            self.met[lane] += 1;
            if turn < SCRIPT && (self.scripts[lane] >> turn) & 1 == 1 {
                value ^= 1 << lane;
            }
        }
        value
    }
}
