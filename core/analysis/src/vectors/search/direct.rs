//! Flips one by one: those of which nothing can be seen on any board leave the list; for the others vectors are looked for
//! that show them, by exploring all states.
use std::collections::BTreeSet;

use super::cone::Cone;
use super::drawn::{LONGEST, Search, step_of};
use super::explore::{Explorer, Outcome};
use crate::vectors::flips::campaign::{compare, flipped};
use crate::vectors::flips::flip::{Change, Flip, Owner};
use crate::vectors::socket::array::Signal;
use crate::vectors::socket::bank::Bank;
use crate::vectors::socket::rules::{Rules, Step};
use crate::vectors::socket::ternary::Ternary;

/// Events of a random walk in each of its sixty-four lanes, and the number of walks for a flip whose states are too many
/// to be explored.
const DEPTH: usize = 8;
const HUNTS: usize = 2;
/// The most that exploring all states may cost for one flip.
pub(super) const WORK_FOR_ONE: usize = 200_000;
/// The same in a first lap, which finds most: vectors for one flip often find others.
pub(super) const WORK_AT_FIRST: usize = 4_000;
/// The same in a second lap.
pub(super) const WORK_IN_BETWEEN: usize = 30_000;
/// The same for the walk through the whole device.
const WORK_FOR_ALL: usize = 400_000;
/// How many fillings of the pins that don't bear on a flip are tried.
const FILLINGS: usize = 6;
/// Contents of registers at power-up from which a flip is looked for one after another.
pub(super) const STARTS_IN_TURN: usize = 4;

/// A flip of which no effect was seen yet.
struct Idle {
    fuse: usize,
    row: usize,
    /// The literals of its term.
    after: Vec<(usize, bool)>,
    /// The other rows of its sum.
    others: Vec<usize>,
    /// Whether a register loads the sum.
    loaded: bool,
}

impl Search<'_> {
    /// Leaves out the flips of which nothing can be seen on any board.
    pub(super) fn leave_out_harmless(&mut self) {
        let idle = self.never_in_effect();
        let mut left = Vec::with_capacity(self.flips.len());
        let mut places = vec![None; self.flips.len()];
        for (index, flip) in std::mem::take(&mut self.flips).into_iter().enumerate() {
            let open = self.campaign.found.get(index) == Some(&false)
                && self.campaign.state_of(index).is_some_and(|(_, hint)| !hint.up && !hint.down);
            if open && (idle.contains(&flip.fuse) || self.is_harmless(&flip)) {
                if !self.reads_clock(&flip) {
                    self.harmless.push(flip.fuse);
                    continue;
                }
                // the hold time alone makes it harmless
                self.timed.insert(flip.fuse);
                self.hidden.insert(flip.fuse);
            }
            places.get_mut(index).into_iter().for_each(|place| *place = Some(left.len()));
            left.push(flip);
        }
        self.flips = left;
        self.campaign.renumber(&places);
    }

    /// Whether a flip makes a term read the clock.
    fn reads_clock(&self, flip: &Flip) -> bool {
        let clock = self.rules.clock.map(Signal::Pin);
        let reads = |pair: usize| clock.is_some() && self.good.array.signals.get(pair).copied() == clock;
        matches!(flip.what, Change::Link { pair, .. } if reads(pair))
    }

    /// Fuses of open flips whose product term has the same effect with them in every state that a board leads to. Only
    /// where nothing remembers but registers: there, what never has an effect never leads anywhere else.
    fn never_in_effect(&mut self) -> BTreeSet<usize> {
        let array = &self.good.array;
        let Some(cone) = Some(Cone::whole(array, self.rules)).filter(|c| c.loops.is_empty() && !c.reads_clock) else {
            return BTreeSet::new();
        };
        let mut idle: Vec<Idle> = Vec::new();
        for (index, flip) in self.flips.iter().enumerate() {
            let Change::Link { row, pair, complement } = flip.what else { continue };
            // what a register loads is decided while the clock is low, and by nothing while it is being reset
            let loaded = match self.owners.of(row) {
                Some(Owner::Sum(cell)) => array.cells.get(cell).is_some_and(|c| c.is_register),
                _ => false,
            };
            if (self.reads_clock(flip) && !loaded) || self.campaign.found.get(index) != Some(&false) {
                continue;
            }
            let looped = flipped(array, flip).looped().contains(&true);
            let (Some(after), false) = (array.row(row).map(|r| r.flipped(pair, complement)), looped) else { continue };
            let others = match self.owners.of(row) {
                Some(Owner::Sum(cell)) => {
                    self.good.live_rows(cell).iter().copied().filter(|&other| other != row).collect()
                }
                _ => Vec::new(),
            };
            if !after.is_off && after.contradictions() < 2 {
                idle.push(Idle { fuse: flip.fuse, row, after: after.literals, others, loaded });
            }
        }
        let work = self.work.min(WORK_FOR_ALL);
        let mut explorer = Explorer { cone: &cone, floating: self.floating, board: true, work };
        let bank = &cone.good;
        let ended = explorer.walk(self.power_up, |state, _, lanes| {
            let reset = bank.reset(state).is_high();
            idle.retain(|flip| {
                let (before, after) = (bank.term(state, flip.row), bank.product(state, &flip.after));
                let mut differs = before.differs(after) & lanes & if flip.loaded { !reset } else { u64::MAX };
                for other in &flip.others {
                    if differs == 0 {
                        break;
                    }
                    differs &= !bank.term(state, *other).is_high();
                }
                differs == 0
            });
            !idle.is_empty()
        });
        self.work -= work - explorer.work;
        if ended { idle.into_iter().map(|flip| flip.fuse).collect() } else { BTreeSet::new() }
    }

    fn is_harmless(&mut self, flip: &Flip) -> bool {
        if self.limit.over().is_some() {
            return false;
        }
        let cone = Cone::new(&self.good.array, self.rules, flip);
        let work = self.work.min(WORK_FOR_ONE);
        let mut explorer = Explorer { cone: &cone, floating: self.floating, board: true, work };
        let same = explorer.are_the_same(self.power_up);
        self.work -= work - explorer.work;
        same
    }

    /// Looks for vectors for every open flip, from where the vectors so far have come to.
    pub(super) fn direct(&mut self, most: usize, wanted: impl Fn(usize) -> bool) {
        for index in (0..self.flips.len()).filter(|&f| wanted(f)) {
            if self.limit.over().is_some() {
                return;
            }
            if self.campaign.found.get(index) != Some(&false)
                || self.steps.len() >= LONGEST
                || self.flips.get(index).is_some_and(|f| self.hidden.contains(&f.fuse))
            {
                continue;
            }
            let Some(flip) = self.flips.get(index).cloned() else { continue };
            let Some((mut state, hint)) = self.campaign.state_of(index) else { continue };
            let cone = Cone::new(&self.good.array, self.rules, &flip);
            let mut good = self.campaign.good.clone();
            let first = self.let_go();
            if !first.is_empty() {
                let bad = Bank::new(flipped(&self.good.array, &flip));
                for step in &first {
                    self.good.apply(&mut good, &step.outside(), step.pulse);
                    bad.apply(&mut state, &step.outside(), step.pulse);
                }
            }
            let work = self.work.min(most);
            let mut explorer = Explorer { cone: &cone, floating: self.floating, board: false, work };
            let outcome = explorer.show(&good, &state, hint).after(first);
            self.work -= work - explorer.work;
            if matches!(outcome, Outcome::Nothing | Outcome::ToSome(_, true)) {
                self.hidden.insert(flip.fuse);
            }
            let steps = match outcome {
                Outcome::Shown(steps) | Outcome::ToSome(steps, _) if self.is_legal(&steps) => {
                    self.take_filled(steps, &cone);
                    continue;
                }
                Outcome::Nothing | Outcome::ToSome(_, true) => continue,
                Outcome::Shown(_) | Outcome::ToSome(..) | Outcome::Unfinished if most < WORK_FOR_ONE => continue,
                Outcome::Shown(_) | Outcome::ToSome(..) | Outcome::Unfinished => {
                    (0..HUNTS).map(|_| self.hunt(index)).find(|steps| !steps.is_empty()).unwrap_or_default()
                }
            };
            for step in steps {
                self.take(step);
            }
        }
    }

    /// Takes these vectors with other levels at the pins that don't bear on the flip: of a few drawn ones those that find the
    /// most other flips.
    fn take_filled(&mut self, steps: Vec<Step>, cone: &Cone) {
        let bears = |pin: usize| Some(pin) == cone.clock || cone.inputs.iter().any(|i| i.pin == pin);
        let free: Vec<usize> = (0..self.good.array.pins)
            .filter(|&pin| {
                self.rules.drivable.get(pin) == Some(&true)
                    && self.rules.asynchronous.get(pin) == Some(&false)
                    && Some(pin) != self.rules.clock
                    && !bears(pin)
                    && !self.good.array.cells.iter().any(|c| c.pin == pin)
            })
            .collect();
        let mut best = (0, None);
        for round in 0..FILLINGS {
            let mut filled = steps.clone();
            for step in filled.iter_mut().filter(|_| round > 0) {
                for &pin in &free {
                    let high = self.draw.one_in(2);
                    if let Some(level) = step.drive.get_mut(pin) {
                        *level = Some(high);
                    }
                }
            }
            if round > 0 && !self.is_legal(&filled) {
                continue;
            }
            let mut campaign = self.campaign.clone();
            for step in &filled {
                campaign.step(self.good, &self.flips, step, self.floating);
            }
            let found = self.campaign.open() - campaign.open();
            if found > best.0 || best.1.is_none() {
                best = (found, Some((filled, campaign)));
            }
            if free.is_empty() {
                break;
            }
        }
        if let Some((steps, campaign)) = best.1 {
            self.steps.extend(steps);
            self.campaign = campaign;
        }
    }

    /// Vectors in which the tester lets go of all pins that the device may drive: one after another, where it matters.
    fn let_go(&self) -> Vec<Step> {
        let Some(last) = self.steps.last() else { return Vec::new() };
        let mut drive = last.drive.clone();
        let mut steps = Vec::new();
        let mut pending = false;
        for pin in self.good.array.cells.iter().map(|c| c.pin) {
            let Some(level) = drive.get_mut(pin).filter(|l| l.is_some()) else { continue };
            *level = None;
            pending = true;
            if self.rules.asynchronous.get(pin) == Some(&true) {
                steps.push(Step { drive: drive.clone(), pulse: None });
                pending = false;
            }
        }
        if pending {
            steps.push(Step { drive, pulse: None });
        }
        steps
    }

    /// Whether the rules allow these vectors from here on, pins outside the cone that they were made in included.
    fn is_legal(&self, steps: &[Step]) -> bool {
        let mut state = self.campaign.good.clone();
        let mut before = self.steps.last();
        for step in steps {
            let (from, outside) = (state.clone(), step.outside());
            let on = self.good.apply(&mut state, &outside, step.pulse);
            if !self.rules.allow(before, step) || Rules::fights(self.good, &from, &outside, &on) & 1 != 0 {
                return false;
            }
            before = Some(step);
        }
        true
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
