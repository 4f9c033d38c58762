//! Looking for vectors: sixty-four drawn ones are tried on the good device at a time, and the one that would make the
//! most open flips show is taken; what that doesn't find is looked for flip by flip.
mod compact;
mod cone;
mod direct;
mod drawn;
mod explore;
mod moves;
mod rate;

pub(super) use compact::Compaction;
pub(super) use drawn::{Search, is_home};

use direct::{STARTS_IN_TURN, WORK_AT_FIRST, WORK_FOR_ONE, WORK_IN_BETWEEN};
use drawn::{LONGEST, held, memory, step_of};

use crate::vectors::flips::campaign::flipped;

/// Rounds without progress before the drawing ends.
const PATIENCE: usize = 8;

impl Search<'_> {
    pub(super) fn run(&mut self) {
        self.home();
        self.wander();
        self.direct(WORK_AT_FIRST, |_| true);
        self.leave_out_harmless();
        // flips that take long come last: what is found for others may find them
        for most in [WORK_IN_BETWEEN, WORK_FOR_ONE] {
            self.direct(most, |_| true);
        }
        // what is left undecided may be found from each known power-up, though not from an unknown one
        let vague: Vec<usize> = self.campaign.vague().into_iter().filter(|&flip| self.is_unknown(flip)).collect();
        if vague.is_empty() {
            return;
        }
        self.by_starts.clone_from(&vague);
        self.again();
        for _ in 0..STARTS_IN_TURN {
            self.direct(WORK_AT_FIRST, |flip| vague.contains(&flip));
        }
        let found = &self.campaign.found;
        self.by_starts.retain(|&f| found.get(f) == Some(&true));
        self.again();
    }

    /// Whether a register of the device with this flip isn't known.
    fn is_unknown(&self, flip: usize) -> bool {
        let array = self.flips.get(flip).map(|f| flipped(&self.good.array, f));
        let state = self.campaign.state_of(flip).map(|(state, _)| state);
        array.zip(state).is_some_and(|(array, state)| {
            array.cells.iter().zip(&state.q).any(|(c, q)| c.is_register && q.lane(0).is_none())
        })
    }

    /// Vectors until everything that remembers is known, or no more of it becomes known.
    fn home(&mut self) {
        let mut idle = 0;
        let mut best = 0;
        while self.limit.over().is_none() && idle < 12 && (self.steps.is_empty() || best < self.memories.len()) {
            let pulse = if idle % 3 == 2 { None } else { self.rules.clock };
            let from = self.campaign.good.clone();
            let (outside, state, legal) = self.sixty_four(&from, pulse, None);
            let known = |lane: u32| {
                let memories = self.memories.iter().filter(|&&c| memory(self.good, &state, c).lane(lane).is_some());
                let driven = outside.iter().filter(|o| o.lane(lane).is_some()).count();
                memories.count() * 64 + driven
            };
            let lane = (0..64).filter(|&l| legal >> l & 1 == 1).max_by_key(|&l| (known(l), 64 - l));
            let Some(lane) = lane else {
                idle += 1;
                continue;
            };
            let now = known(lane) / 64;
            if now > best || self.steps.is_empty() {
                (best, idle) = (now, 0);
            } else {
                idle += 1;
            }
            self.take(step_of(&outside, lane, pulse));
        }
    }

    fn wander(&mut self) {
        let remembers = !self.memories.is_empty();
        let mut mark = (self.campaign.clone(), self.steps.len());
        let mut idle = 0;
        while self.limit.over().is_none() && self.campaign.open() > 0 && idle < PATIENCE && self.steps.len() < LONGEST {
            let pulse = if self.draw.one_in(4) { None } else { self.rules.clock };
            let from = self.campaign.good.clone();
            let aim = self.an_open_flip();
            let (outside, state, legal) = self.sixty_four(&from, pulse, aim);
            let scores = self.rate(&from, &outside, &state, pulse.is_some());
            let best = (0..64u32).filter(|&l| legal >> l & 1 == 1).max_by_key(|&l| (scores.get(l as usize), 64 - l));
            let score = best.and_then(|l| scores.get(l as usize)).copied().unwrap_or(0);
            let Some(lane) = best.filter(|_| score > 0) else {
                idle += 1;
                continue;
            };
            if let Some(held) = held(&state, lane) {
                self.visited.insert(held);
            }
            let found = self.take(step_of(&outside, lane, pulse));
            if found > 0 {
                mark = (self.campaign.clone(), self.steps.len());
                idle = 0;
            } else {
                idle += 1;
                if !remembers {
                    self.campaign = mark.0.clone();
                    self.steps.truncate(mark.1);
                }
            }
        }
        self.campaign = mark.0;
        self.steps.truncate(mark.1);
    }

    fn an_open_flip(&mut self) -> Option<usize> {
        let open = self.campaign.open();
        let nth = self.draw.below(open);
        self.campaign.found.iter().enumerate().filter(|(_, found)| !**found).map(|(f, _)| f).nth(nth)
    }
}
