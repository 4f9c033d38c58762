//! Looking for vectors: sixty-four drawn ones are tried on the good device at a time, and the one that would make the
//! most open flips show is taken; flips that nothing drawn finds are hunted one by one.
use std::collections::HashSet;

use super::array::{Array, Enable, Signal};
use super::bank::{Bank, State};
use super::campaign::{Campaign, Hint, compare, flipped};
use super::draw::Draw;
use super::flip::{Change, Flip, Owner, Owners};
use super::rules::{Rules, Step};
use super::ternary::Ternary;

/// Rounds without progress before the drawing ends.
const PATIENCE: usize = 48;
/// Vectors at most, whatever there may still be to find.
const LONGEST: usize = 4000;
/// Events of one hunt in each of its sixty-four lanes, and how many hunts a flip is worth in each lap: those of which
/// something was seen, but not for certain, in the first lap only.
const DEPTH: usize = 8;
const HUNTS: [usize; 2] = [2, 6];

pub(super) struct Search<'a> {
    pub(super) good: &'a Bank,
    pub(super) rules: &'a Rules,
    pub(super) flips: &'a [Flip],
    pub(super) floating: bool,
    owners: Owners,
    draw: Draw,
    pub(super) campaign: Campaign,
    pub(super) steps: Vec<Step>,
    visited: HashSet<u64>,
    /// For each cell, whether it ever leaves its pin to others.
    quiet: Vec<bool>,
    /// Cells that remember: registers, and combinational ones in a loop.
    memories: Vec<usize>,
    /// Flips that are found from every power-up, one by one.
    pub(super) by_starts: Vec<usize>,
    /// Vectors that were tried on a device with a flip that was never found.
    pub(super) tried: usize,
}

impl<'a> Search<'a> {
    pub(super) fn new(good: &'a Bank, rules: &'a Rules, flips: &'a [Flip], floating: bool) -> Self {
        let array = &good.array;
        Search {
            good,
            rules,
            flips,
            floating,
            owners: Owners::new(array),
            draw: Draw(1976),
            campaign: Campaign::new(good, flips, &[]),
            steps: Vec::new(),
            visited: HashSet::new(),
            quiet: array.cells.iter().map(|c| may_be_quiet(array, c.enable)).collect(),
            memories: memories(array, rules),
            by_starts: Vec::new(),
            tried: 0,
        }
    }

    pub(super) fn run(&mut self) {
        self.home();
        self.wander();
        for (lap, hunts) in HUNTS.into_iter().enumerate() {
            self.hunt_all(hunts, lap > 0);
            // what is left and vague may be found from every power-up, though from no unknown one
            self.by_starts.extend(self.campaign.vague());
            let mut again = Campaign::new(self.good, self.flips, &self.by_starts);
            for step in &self.steps {
                again.step(self.good, self.flips, step, self.floating);
            }
            self.by_starts.retain(|&f| again.found.get(f) == Some(&true));
            self.campaign = again;
        }
    }

    /// Vectors until everything that remembers is known, or no more of it becomes known.
    fn home(&mut self) {
        let mut idle = 0;
        let mut best = 0;
        while idle < 12 && (self.steps.is_empty() || best < self.memories.len()) {
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

    fn take(&mut self, step: Step) -> usize {
        let found = self.campaign.step(self.good, self.flips, &step, self.floating);
        self.steps.push(step);
        found
    }

    fn wander(&mut self) {
        let remembers = !self.memories.is_empty();
        let mut mark = (self.campaign.clone(), self.steps.len());
        let mut idle = 0;
        while self.campaign.open() > 0 && idle < PATIENCE && self.steps.len() < LONGEST {
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

    /// Sixty-four drawn vectors applied from where the lanes of `from` stand: levels, states, and the lanes that keep the
    /// rules.
    fn sixty_four(&mut self, from: &State, pulse: Option<usize>, aim: Option<usize>) -> (Vec<Ternary>, State, u64) {
        let enabled: Vec<(usize, u64)> =
            self.good.array.cells.iter().map(|c| (c.pin, self.good.enable(from, c).can_high)).collect();
        let mut outside = vec![Ternary::UNKNOWN; self.good.array.pins];
        for lane in 0..64 {
            let drive = self.drawn(from, &enabled, lane, pulse.is_some(), aim);
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
        let mut legal = !Rules::fights(self.good, from, &outside, &on);
        for lane in 0..64 {
            let before = (!self.steps.is_empty()).then(|| step_of(&from.outside, lane, None));
            if !self.rules.allow(before.as_ref(), &step_of(&outside, lane, pulse)) {
                legal &= !(1 << lane);
            }
        }
        (outside, state, legal)
    }

    /// One drawn vector.
    fn drawn(
        &mut self,
        from: &State,
        enabled: &[(usize, u64)],
        lane: u32,
        pulse: bool,
        aim: Option<usize>,
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
        let aimed = aim.filter(|_| !self.draw.one_in(4)).map(|f| self.aim(f)).unwrap_or_default();
        for &(pin, high) in &aimed {
            if let Some(level) = target.get_mut(pin) {
                *level = Some(high);
            }
        }
        for (index, &(pin, on)) in enabled.iter().enumerate() {
            let quiet = self.quiet.get(index) == Some(&true);
            let switched = quiet && self.good.array.cells.get(index).is_some_and(|c| self.good.array.ever_drives(c));
            let rest = !quiet || on >> lane & 1 == 1 || self.draw.one_in(if switched { 3 } else { 16 });
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
            self.keep_one_asynchronous(&current, &mut target, &aimed);
        }
        target
    }

    fn keep_one_asynchronous(
        &mut self,
        current: &[Option<bool>],
        target: &mut [Option<bool>],
        aimed: &[(usize, bool)],
    ) {
        let mut changes = Rules::changes(current, target);
        changes.retain(|&pin| self.rules.asynchronous.get(pin) == Some(&true));
        if changes.len() < 2 {
            return;
        }
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

    /// How much each of sixty-four vectors promises: open flips that it makes differ in their own row, more for those
    /// whose pin is tested, and a little for states that are new.
    fn rate(&self, from: &State, outside: &[Ternary], state: &State, pulsed: bool) -> Vec<u32> {
        let mut scores = vec![0u32; 64];
        let mut add = |lanes: u64, weight: u32| {
            let mut left = lanes;
            while left != 0 {
                if let Some(s) = scores.get_mut(left.trailing_zeros() as usize) {
                    *s += weight;
                }
                left &= left - 1;
            }
        };
        let good = self.good;
        // what registers load is decided before the pulse
        let mut before = from.clone();
        if pulsed {
            good.apply(&mut before, outside, None);
        }
        let terms = |s: &State| (0..good.array.rows.len()).map(|row| good.term(s, row)).collect::<Vec<_>>();
        let (at_rest, early) = (terms(state), if pulsed { terms(&before) } else { Vec::new() });
        let tested: Vec<u64> = good
            .array
            .cells
            .iter()
            .map(|c| good.enable(state, c).is_high() & !outside.get(c.pin).map_or(0, |o| o.is_known()))
            .collect();
        for (flip, _) in self.flips.iter().zip(&self.campaign.found).filter(|(_, found)| !**found) {
            let (row, but) = match flip.what {
                Change::Link { row, pair, complement } => (row, Some((pair, complement))),
                Change::Term { row } => (row, None),
                Change::Setup(_) => {
                    // it is in every vector or in none: what is new is all that can be promised
                    continue;
                }
            };
            let Some(owner) = self.owners.of(row) else { continue };
            let clocked = match owner {
                Owner::Sum(cell) => good.array.cells.get(cell).is_some_and(|c| c.is_register),
                Owner::Preset => true,
                Owner::Enable(_) | Owner::Reset => false,
            };
            if clocked && !pulsed {
                continue;
            }
            let (s, values) = if clocked { (&before, &early) } else { (state, &at_rest) };
            let term = match but {
                Some(literal) => good.term_without(s, row, Some(literal)),
                None => good.term(s, row),
            };
            let opposed = but.map_or(u64::MAX, |(pair, no)| good.signal(s, pair).not_if(no).is_low());
            let mut lanes = term.is_high() & opposed;
            if lanes == 0 {
                continue;
            }
            match owner {
                Owner::Sum(cell) => {
                    for other in good.live_rows(cell).iter().filter(|&&r| r != row) {
                        lanes &= values.get(*other).map_or(0, |t| t.is_low());
                    }
                    let tested = tested.get(cell).copied().unwrap_or(0);
                    add(lanes & tested, 8);
                    add(lanes & !tested, 2);
                }
                Owner::Enable(_) => add(lanes, 3),
                Owner::Reset | Owner::Preset => add(lanes, 2),
            }
        }
        if good.array.has_registers() {
            for lane in 0..64 {
                if held(state, lane).is_some_and(|q| !self.visited.contains(&q)) {
                    add(1 << lane, 3);
                }
            }
        }
        scores
    }

    /// Hunts every open flip from where the vectors have come to.
    fn hunt_all(&mut self, hunts: usize, unseen_only: bool) {
        for flip in 0..self.flips.len() {
            let seen = self.campaign.state_of(flip).is_some_and(|(_, hint)| hint != Hint::default());
            if unseen_only && seen {
                continue;
            }
            for _ in 0..hunts {
                if self.campaign.found.get(flip) != Some(&false) || self.steps.len() >= LONGEST {
                    break;
                }
                for step in self.hunt(flip) {
                    self.take(step);
                }
            }
        }
    }

    /// Sixty-four drawn walks of the good device and of one with a flip, side by side; the first that tells them apart.
    fn hunt(&mut self, flip: usize) -> Vec<Step> {
        let Some(bad) = self.flips.get(flip).map(|f| flipped(&self.good.array, f)) else { return Vec::new() };
        let bad = Bank::new(bad);
        let Some((mut b, hint)) = self.campaign.state_of(flip) else { return Vec::new() };
        let mut g = self.campaign.good.clone();
        let all = |seen: bool| if seen { u64::MAX } else { 0 };
        let (mut up, mut down) = (all(hint.up), all(hint.down));
        let mut walks: Vec<(Vec<Ternary>, Option<usize>, u64)> = Vec::new();
        for _ in 0..DEPTH {
            let pulse = if self.draw.one_in(3) { None } else { self.rules.clock };
            let (outside, state, legal) = self.sixty_four(&g, pulse, Some(flip));
            let mut other = b.clone();
            bad.apply(&mut other, &outside, pulse);
            let seen = compare(self.good, &state, &bad, &other, self.floating);
            (up, down) = (up | (seen.up & legal), down | (seen.down & legal));
            g = state.in_lanes(legal, &g);
            b = other.in_lanes(legal, &b);
            walks.push((outside, pulse, legal));
            self.tried += legal.count_ones() as usize;
            let found = (seen.found | (up & down)) & legal;
            if found != 0 {
                let lane = found.trailing_zeros();
                let taken = walks.iter().filter(|(.., legal)| legal >> lane & 1 == 1);
                return taken.map(|(outside, pulse, _)| step_of(outside, lane, *pulse)).collect();
            }
        }
        Vec::new()
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
fn memory(bank: &Bank, state: &State, cell: usize) -> Ternary {
    let value = match bank.array.cells.get(cell) {
        Some(c) if c.is_register => state.q.get(cell),
        Some(c) => state.pins.get(c.pin),
        None => None,
    };
    value.copied().unwrap_or(Ternary::UNKNOWN)
}

/// Whether everything that remembers is known.
pub(super) fn is_home(bank: &Bank, rules: &Rules, state: &State) -> bool {
    memories(&bank.array, rules).into_iter().all(|c| memory(bank, state, c).lane(0).is_some())
}

fn step_of(outside: &[Ternary], lane: u32, pulse: Option<usize>) -> Step {
    Step { drive: outside.iter().map(|o| o.lane(lane)).collect(), pulse }
}

/// What the registers of a lane hold, if all of it is known.
fn held(state: &State, lane: u32) -> Option<u64> {
    state.q.iter().try_fold(0, |held, q| q.lane(lane).map(|bit| held << 1 | u64::from(bit)))
}

fn may_be_quiet(array: &Array, enable: Enable) -> bool {
    match enable {
        Enable::Row(row) => array.cube(row).is_none_or(|c| c.literals() > 0),
        Enable::PinLow(_) | Enable::Never => true,
        Enable::Always => false,
    }
}
