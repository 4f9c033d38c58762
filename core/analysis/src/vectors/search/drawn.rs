//! What is looked for and what came of it so far; drawn vectors, sixty-four at a time, as far as the rules allow them.
use std::collections::{BTreeSet, HashSet};

use super::cone::may_be_quiet;
use crate::vectors::flips::campaign::Campaign;
use crate::vectors::flips::flip::{Change, Flip, Owners};
use crate::vectors::socket::array::{Array, Signal};
use crate::vectors::socket::bank::{Bank, State};
use crate::vectors::socket::rules::{Rules, Step};
use crate::vectors::socket::ternary::Ternary;
use gluewright_kernel::limit::Limit;
use gluewright_kernel::random::SplitMix;

/// The most vectors, whatever is still to be found.
pub(super) const LONGEST: usize = 4000;
/// The most that exploring all states may cost for all flips together, in product terms of words of sixty-four vectors:
/// a limit by work, so that the vectors are the same on every machine. All of it takes about two seconds.
const WORK: usize = 4_000_000;

pub(in crate::vectors) struct Search<'a> {
    pub(super) good: &'a Bank,
    pub(super) rules: &'a Rules,
    /// The flips that may be seen; those that turn out to change nothing leave the list.
    pub(in crate::vectors) flips: Vec<Flip>,
    pub(super) floating: bool,
    /// What the registers hold at power-up, if the device says so.
    pub(super) power_up: Option<bool>,
    /// The cost that is left for exploring all states.
    pub(super) work: usize,
    /// Fuses of flips that were shown to change nothing.
    pub(in crate::vectors) harmless: Vec<usize>,
    /// Fuses of flips that no vectors can show for certain, all of them tried.
    pub(in crate::vectors) hidden: BTreeSet<usize>,
    /// Fuses of flips that make a register's data move with its clock, and change nothing if it holds what stood before.
    pub(in crate::vectors) timed: BTreeSet<usize>,
    pub(super) owners: Owners,
    pub(super) draw: SplitMix,
    pub(in crate::vectors) campaign: Campaign,
    pub(in crate::vectors) steps: Vec<Step>,
    pub(super) visited: HashSet<u64>,
    /// For each cell, whether it ever leaves its pin to others.
    quiet: Vec<bool>,
    /// For each pin, whether a product term reads it.
    read: Vec<bool>,
    /// Cells that remember: registers, and combinational ones in a loop.
    pub(super) memories: Vec<usize>,
    /// Flips that are found from every power-up, one by one.
    pub(in crate::vectors) by_starts: Vec<usize>,
    /// When nothing more is looked for: what there is by then is not used.
    pub(in crate::vectors) limit: Limit,
}

impl<'a> Search<'a> {
    pub(in crate::vectors) fn new(
        good: &'a Bank,
        rules: &'a Rules,
        flips: Vec<Flip>,
        floating: bool,
        power_up: Option<bool>,
    ) -> Self {
        let array = &good.array;
        Search {
            good,
            rules,
            campaign: Campaign::new(good, &flips, &[]),
            flips,
            floating,
            power_up,
            work: WORK,
            harmless: Vec::new(),
            hidden: BTreeSet::new(),
            timed: BTreeSet::new(),
            owners: Owners::new(array),
            draw: SplitMix::new(1976),
            steps: Vec::new(),
            visited: HashSet::new(),
            quiet: array.cells.iter().map(|c| may_be_quiet(array, c.enable)).collect(),
            read: (0..array.pins).map(|pin| array.reads(pin)).collect(),
            memories: memories(array, rules),
            by_starts: Vec::new(),
            limit: Limit::NONE,
        }
    }

    /// Runs all vectors again.
    pub(super) fn again(&mut self) {
        let mut again = Campaign::new(self.good, &self.flips, &self.by_starts);
        for step in &self.steps {
            again.step(self.good, &self.flips, step, self.floating);
        }
        self.campaign = again;
    }

    pub(super) fn take(&mut self, step: Step) -> usize {
        let found = self.campaign.step(self.good, &self.flips, &step, self.floating);
        self.steps.push(step);
        found
    }

    /// Sixty-four drawn vectors applied from where the lanes of `from` stand: levels, states, and the lanes that keep the
    /// rules.
    pub(super) fn sixty_four(
        &mut self,
        from: &State,
        pulse: Option<usize>,
        aim: Option<usize>,
    ) -> (Vec<Ternary>, State, u64) {
        let enabled: Vec<(usize, u64)> =
            self.good.array.cells.iter().map(|c| (c.pin, self.good.enable(from, c).can_high)).collect();
        let mut outside = vec![Ternary::UNKNOWN; self.good.array.pins];
        let wanted = aim.map(|flip| self.aim(flip));
        for lane in 0..64 {
            let drive = self.drawn(from, &enabled, lane, pulse.is_some(), wanted.as_deref());
            for (to, level) in outside.iter_mut().zip(drive) {
                to.set_lane(lane, level.map_or(Ternary::UNKNOWN, Ternary::known), lane);
            }
        }
        let mut state = from.clone();
        let mut on = self.good.apply(&mut state, &outside, pulse);
        // a pin that turned out to be driven by the device is left alone
        let mut again = false;
        for (cell, on) in self.good.array.cells.iter().zip(&on) {
            if let Some(level) = outside.get_mut(cell.pin) {
                let lanes = level.is_known() & on;
                again |= lanes != 0;
                *level = Ternary::UNKNOWN.in_lanes(lanes, *level);
            }
        }
        if again {
            state = from.clone();
            on = self.good.apply(&mut state, &outside, pulse);
        }
        let before = (!self.steps.is_empty()).then_some(from.outside.as_slice());
        let legal = !Rules::fights(self.good, from, &outside, &on) & self.rules.allowed(before, &outside, pulse);
        (outside, state, legal)
    }

    /// One drawn vector.
    fn drawn(
        &mut self,
        from: &State,
        enabled: &[(usize, u64)],
        lane: u32,
        pulse: bool,
        wanted: Option<&[(usize, bool)]>,
    ) -> Vec<Option<bool>> {
        let first = self.steps.is_empty();
        let current: Vec<Option<bool>> = from.outside.iter().map(|o| o.lane(lane)).collect();
        let kind = self.draw.below(4);
        let mut target = current.clone();
        let random = self.draw.word();
        for (pin, level) in target.iter_mut().enumerate() {
            let bit = random >> (pin & 63) & 1 == 1;
            match (kind, *level) {
                (0 | 1, _) | (_, None) => *level = Some(bit),
                (2, Some(old)) => *level = Some(old != (bit && self.draw.one_in(2))),
                (_, Some(_)) => {}
            }
        }
        if kind == 3 {
            let pin = self.draw.below(target.len());
            if let Some(Some(level)) = target.get_mut(pin) {
                *level = !*level;
            }
        }
        let aimed = wanted.filter(|_| !self.draw.one_in(4)).unwrap_or_default();
        for &(pin, high) in aimed {
            if let Some(level) = target.get_mut(pin) {
                *level = Some(high);
            }
        }
        for (index, &(pin, on)) in enabled.iter().enumerate() {
            let quiet = self.quiet.get(index) == Some(&true);
            let switched = quiet && self.good.array.cells.get(index).is_some_and(|c| self.good.array.ever_drives(c));
            // what nobody reads is mostly left alone: a driven pin must be let go before the device may drive it
            let read = self.read.get(pin) == Some(&true);
            let rest = !quiet
                || on >> lane & 1 == 1
                || match (switched, read) {
                    (true, true) => self.draw.one_in(3),
                    (true, false) => !self.draw.one_in(32),
                    (false, _) => self.draw.one_in(16),
                };
            if let Some(level) = target.get_mut(pin).filter(|_| rest) {
                *level = None;
            }
        }
        for (level, _) in target.iter_mut().zip(&self.rules.drivable).filter(|(_, d)| !**d) {
            *level = None;
        }
        if let Some(clock) = self.rules.clock {
            let now = current.get(clock).copied().flatten() == Some(true);
            if !pulse && !first && !now && self.draw.one_in(8) {
                target.clone_from(&current);
            }
            let high = match (pulse, first, now) {
                (true, ..) | (_, true, _) => false,
                (false, false, true) => !self.draw.one_in(2),
                (false, false, false) => target == current,
            };
            if let Some(level) = target.get_mut(clock) {
                *level = Some(high);
            }
        }
        if !first {
            self.keep_one_asynchronous(&current, &mut target, aimed);
        }
        target
    }

    fn keep_one_asynchronous(
        &mut self,
        current: &[Option<bool>],
        target: &mut [Option<bool>],
        aimed: &[(usize, bool)],
    ) {
        let is_asynchronous = |pin: &usize| self.rules.asynchronous.get(*pin) == Some(&true);
        let differs = |pin: &usize| current.get(*pin) != target.get(*pin);
        if (0..target.len()).filter(is_asynchronous).filter(differs).nth(1).is_none() {
            return;
        }
        let mut changes = Rules::changes(current, target);
        changes.retain(is_asynchronous);
        let wanted: Vec<usize> = changes.iter().copied().filter(|pin| aimed.iter().any(|a| a.0 == *pin)).collect();
        let among = if wanted.is_empty() { &changes } else { &wanted };
        let kept = among.get(self.draw.below(among.len())).copied();
        for pin in changes.into_iter().filter(|&pin| Some(pin) != kept) {
            if let (Some(to), Some(from)) = (target.get_mut(pin), current.get(pin)) {
                *to = *from;
            }
        }
    }

    /// The levels at pins that would make a flip show in its own row.
    fn aim(&self, flip: usize) -> Vec<(usize, bool)> {
        let pin = |pair: usize| match self.good.array.signals.get(pair) {
            Some(&Signal::Pin(pin)) => Some(pin),
            _ => None,
        };
        let literals = |row: usize| self.good.array.row(row).map_or(&[][..], |r| r.literals.as_slice());
        match self.flips.get(flip).map(|f| &f.what) {
            Some(&Change::Link { row, pair, complement }) => {
                let others = literals(row).iter().filter(|&&(p, _)| p != pair);
                let others = others.filter_map(|&(p, no)| Some((pin(p)?, !no)));
                others.chain(pin(pair).map(|p| (p, complement))).collect()
            }
            Some(&Change::Term { row }) => literals(row).iter().filter_map(|&(p, no)| Some((pin(p)?, !no))).collect(),
            Some(Change::Setup(_)) | None => Vec::new(),
        }
    }
}

/// Cells that remember and can be seen: registers, and combinational ones in a loop.
fn memories(array: &Array, rules: &Rules) -> Vec<usize> {
    let observed = array.observed();
    let looped = |pin: usize| rules.asynchronous.get(pin) == Some(&true);
    let remembers = |(c, seen): (usize, bool)| {
        let cell = array.cells.get(c)?;
        (seen && (cell.is_register || looped(cell.pin))).then_some(c)
    };
    observed.into_iter().enumerate().filter_map(remembers).collect()
}

/// What such a cell holds.
pub(super) fn memory(bank: &Bank, state: &State, cell: usize) -> Ternary {
    let value = match bank.array.cells.get(cell) {
        Some(c) if c.is_register => state.q.get(cell),
        Some(c) => state.pins.get(c.pin),
        None => None,
    };
    value.copied().unwrap_or(Ternary::UNKNOWN)
}

/// Whether everything that remembers is known.
pub(in crate::vectors) fn is_home(bank: &Bank, rules: &Rules, state: &State) -> bool {
    memories(&bank.array, rules).into_iter().all(|c| memory(bank, state, c).lane(0).is_some())
}

pub(super) fn step_of(outside: &[Ternary], lane: u32, pulse: Option<usize>) -> Step {
    Step { drive: outside.iter().map(|o| o.lane(lane)).collect(), pulse }
}

/// What the registers of a lane hold, if all of it is known.
pub(super) fn held(state: &State, lane: u32) -> Option<u64> {
    state.q.iter().try_fold(0, |held, q| q.lane(lane).map(|bit| held << 1 | u64::from(bit)))
}
