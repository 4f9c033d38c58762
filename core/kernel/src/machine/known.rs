//! The states that a circuit may be in, one by one, 64 side by side: what a step costs once they can be counted.
use std::collections::HashSet;

use super::algebra::sixty_four_runs;
use super::{Algebra, Limits, Machine, Point, Unknown};

/// Circuits with more bits than this are not begun with all their states.
const MOST_BITS: usize = 12;
/// Different states that are kept.
const MOST_STATES: usize = 1 << MOST_BITS;
/// The most combinations of unknown outcomes in one step.
const MOST_WAYS: usize = 64;

/// Sixty-four runs that all resolve their unknowns in the same given way.
struct Guesses<'g> {
    given: &'g [bool],
    asked: usize,
    alive: u64,
}

impl Algebra for Guesses<'_> {
    sixty_four_runs!();

    fn unknown(&mut self, _: Unknown, when: u64, usual: u64) -> u64 {
        if when & self.alive == 0 {
            return usual;
        }
        let high = self.given.get(self.asked).copied().unwrap_or(false);
        self.asked += 1;
        (when & word(high)) | (!when & usual)
    }
}

fn word(high: bool) -> u64 {
    if high { u64::MAX } else { 0 }
}

/// What the cells of a settled state hold, and the levels outside.
pub type Settled = (Vec<bool>, Vec<bool>);

/// Up to 64 states: the point of each in its own lane, and which lanes are in use.
#[derive(Clone, Debug)]
pub struct Block {
    /// One state in each lane.
    pub point: Point<u64>,
    /// The lanes in use, a bit each.
    pub alive: u64,
}

/// Adds every way in which a run may turn out; false if they are too many.
fn every_way(alive: u64, out: &mut Vec<Block>, mut run: impl FnMut(&mut Guesses) -> (Point<u64>, u64)) -> bool {
    let mut ways = vec![Vec::new()];
    let mut taken = 0;
    while let Some(given) = ways.pop() {
        taken += 1;
        if taken > MOST_WAYS {
            return false;
        }
        let mut guesses = Guesses { given: &given, asked: 0, alive };
        let (point, unsettled) = run(&mut guesses);
        for k in given.len()..guesses.asked {
            let mut other = given.clone();
            other.resize(k, false);
            other.push(true);
            ways.push(other);
        }
        if alive & !unsettled != 0 {
            out.push(Block { point, alive: alive & !unsettled });
        }
    }
    true
}

/// All states that are possible.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// The states, 64 to a block.
    pub blocks: Vec<Block>,
}

impl Known {
    /// Every start that comes to rest with these levels outside; `None` if they are too many to count.
    pub fn begin(machine: &Machine, outside: &[bool], limits: Limits) -> Option<Known> {
        let bits = machine.cells().len();
        if bits > MOST_BITS {
            return None;
        }
        let outside: Vec<u64> = outside.iter().map(|&high| word(high)).collect();
        let count = 1u64 << bits;
        let mut known = Known::default();
        for first in (0..count).step_by(64) {
            let cells: Vec<u64> =
                (0..bits).map(|k| (0..64).fold(0, |w, lane| w | ((((first + lane) >> k) & 1) << lane))).collect();
            let alive = if count >= 64 { u64::MAX } else { (1 << count) - 1 };
            let fits = every_way(alive, &mut known.blocks, |guesses| {
                let woken = machine.power_up(guesses, &outside, &cells, limits);
                (woken.point, woken.unsettled)
            });
            if !fits {
                return None;
            }
        }
        known.join(machine).then_some(known)
    }

    /// Settled states, each by what its cells hold and by the levels outside.
    pub fn of(machine: &Machine, states: &[Settled]) -> Option<Known> {
        let mut known = Known::default();
        for states in states.chunks(64) {
            let words = |of: fn(&Settled) -> &Vec<bool>, count: usize| -> Vec<u64> {
                let bit = |k: usize, s: &Settled| of(s).get(k).copied().unwrap_or(false);
                let lanes = |k| states.iter().enumerate().map(move |(l, s)| u64::from(bit(k, s)) << l);
                (0..count).map(|k| lanes(k).fold(0, |a, b| a | b)).collect()
            };
            let cells = words(|s| &s.0, machine.cells().len());
            let outside = words(|s| &s.1, machine.ports().len());
            let alive = if states.len() == 64 { u64::MAX } else { (1 << states.len()) - 1 };
            if !every_way(alive, &mut known.blocks, |guesses| (machine.point(guesses, &outside, &cells), 0)) {
                return None;
            }
        }
        known.join(machine).then_some(known)
    }

    /// Events, each of changes at one moment, one after the other in any of these orders; false if too many states come of it.
    pub fn step(&mut self, machine: &Machine, orders: &[Vec<Vec<(usize, bool)>>], limits: Limits) -> bool {
        let before = self.blocks.len();
        let mut all = Vec::with_capacity(before);
        for order in orders {
            let mut blocks = self.blocks.clone();
            for event in order {
                let change: Vec<_> = event.iter().map(|&(port, level)| (port, word(level))).collect();
                let mut next = Vec::with_capacity(blocks.len());
                for block in &blocks {
                    let fits = every_way(block.alive, &mut next, |guesses| {
                        let stepped = machine.step(guesses, &block.point, &change, limits);
                        (stepped.point, stepped.unsettled)
                    });
                    if !fits || next.len() > MOST_STATES {
                        return false;
                    }
                }
                blocks = next;
            }
            all.append(&mut blocks);
        }
        self.blocks = all;
        self.blocks.len() <= before || self.join(machine)
    }

    /// Keeps of each block these lanes.
    pub fn keep(&mut self, machine: &Machine, left: &[u64]) {
        let before = self.blocks.len();
        for (block, &lanes) in self.blocks.iter_mut().zip(left) {
            block.alive &= lanes;
        }
        if before > 1 {
            self.blocks.retain(|b| b.alive != 0);
            let lanes: u32 = self.blocks.iter().map(|b| b.alive.count_ones()).sum();
            if lanes as usize <= 32 * self.blocks.len() {
                self.join(machine);
            }
        }
    }

    /// Packs the states into full blocks without duplicates; false if they are too many.
    fn join(&mut self, machine: &Machine) -> bool {
        if self.blocks.len() < 2 {
            return true;
        }
        let mut seen = HashSet::new();
        let mut lanes = Vec::new();
        for block in &self.blocks {
            let held: Vec<u64> =
                machine.held(&block.point).into_iter().chain(machine.floating_levels(&block.point)).collect();
            for lane in (0..64).filter(|lane| (block.alive >> lane) & 1 == 1) {
                let state: Vec<bool> = held.iter().map(|w| (w >> lane) & 1 == 1).collect();
                if seen.insert(state) {
                    lanes.push((&block.point, lane));
                }
            }
        }
        if lanes.len() > MOST_STATES {
            return false;
        }
        self.blocks = lanes
            .chunks(64)
            .map(|lanes| Block {
                point: Point::gathered(lanes),
                alive: if lanes.len() == 64 { u64::MAX } else { (1 << lanes.len()) - 1 },
            })
            .collect();
        true
    }
}
