//! Packs units into devices: exactly where the search is small, else by random moves with a falling tolerance, from
//! several starts.
use super::units::{Set, Unit, Units};
use gluewright_kernel::limit::Limit;
use gluewright_kernel::random::Xorshift;

/// What one device holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Capacity {
    pub(super) macrocells: usize,
    /// Pins for signals, macrocells' pins included.
    pub(super) pins: usize,
}

/// A device that is to be filled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slot {
    /// Its type: slots of one type are alike.
    pub(super) kind: usize,
    pub(super) capacity: Capacity,
    /// Units that a device of this type can't hold, one bit each.
    pub(super) forbidden: u128,
}

/// Which device each unit goes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Packed {
    /// For each unit, a device; those in use are counted from 0.
    pub(super) groups: Vec<usize>,
    /// For each device in use, its place among the slots.
    pub(super) slots: Vec<usize>,
    pub(super) wires: usize,
    /// Whether fewer wires are impossible.
    pub(super) fewest: bool,
}

/// Steps of the exact search before it gives up.
const STEPS: usize = 150_000;

/// Starts of the inexact search, and moves from each.
const STARTS: u64 = 4;
const MOVES: usize = 12_000;

/// Steps between two checks of the work limit.
const LOOK: usize = 256;

/// Cost of an overfull device, counted in wires.
const TOO_FULL: usize = 40;

/// The best way that is found to pack units into these devices, none too full and none with a set in it that its type
/// refused.
///
/// # Errors
/// Whether it is proved that there is none.
pub(super) fn pack(units: &Units, slots: &[Slot], refused: &[(usize, u128)], limit: Limit) -> Result<Packed, bool> {
    let problem = Problem { units: &units.list, slots, refused, limit };
    let mut best: Option<(Vec<usize>, usize)> = None;
    for seed in 1..=STARTS {
        if slots.len() == 1 && seed > 1 {
            break;
        }
        if let Some((groups, wires)) = problem.cool(seed)
            && best.as_ref().is_none_or(|(_, least)| wires < *least)
        {
            best = Some((groups, wires));
        }
    }
    let mut exact = Exact { problem: &problem, best, steps: STEPS, groups: Vec::new() };
    let fewest = exact.search();
    let (groups, wires) = exact.best.ok_or(fewest)?;
    let (groups, slots) = in_order(&groups);
    Ok(Packed { groups, slots, wires, fewest })
}

/// The same groups, counted in the order of their first units, and what each was before.
fn in_order(groups: &[usize]) -> (Vec<usize>, Vec<usize>) {
    let mut seen: Vec<usize> = Vec::new();
    for &g in groups {
        if !seen.contains(&g) {
            seen.push(g);
        }
    }
    (groups.iter().map(|g| seen.iter().position(|s| s == g).unwrap_or(0)).collect(), seen)
}

struct Problem<'a> {
    units: &'a [Unit],
    slots: &'a [Slot],
    refused: &'a [(usize, u128)],
    /// When nothing more is tried.
    limit: Limit,
}

/// What the units of one device need together.
#[derive(Clone, Copy, Debug, Default)]
struct Load {
    members: u128,
    reads: Set,
    drives: Set,
    copied: Set,
    conditions: u64,
    clocks: u64,
    resets: u64,
}

impl Load {
    fn add(&mut self, index: usize, unit: &Unit) {
        self.members |= 1 << index;
        self.reads = self.reads.or(unit.reads);
        self.drives = self.drives.or(unit.drives);
        self.copied = self.copied.or(unit.copied);
        self.conditions |= unit.conditions;
        self.clocks |= unit.clock;
        self.resets |= unit.reset;
    }
}

impl Problem<'_> {
    fn loads(&self, groups: &[usize]) -> Vec<Load> {
        let mut loads = vec![Load::default(); self.slots.len()];
        for (index, (unit, &group)) in self.units.iter().zip(groups).enumerate() {
            if let Some(load) = loads.get_mut(group) {
                load.add(index, unit);
            }
        }
        loads
    }

    /// By how much devices are too full, and the wires between them. `later` are nets that units without a device yet
    /// drive: a read of these may still become a macrocell of the same device.
    fn judge(&self, loads: &[Load], later: Set) -> (usize, usize) {
        let (mut excess, mut ends, mut all) = (0, 0, Set::default());
        for (index, (load, slot)) in loads.iter().zip(self.slots).enumerate() {
            let elsewhere = loads.iter().enumerate().filter(|(i, _)| *i != index);
            let read = elsewhere.fold(Set::default(), |s, (_, l)| s.or(l.reads));
            let copies = load.copied.and(read).len();
            let cells = load.members.count_ones() as usize + load.conditions.count_ones() as usize + copies;
            let inputs = load.reads.without(load.drives).without(later).len();
            excess += cells.saturating_sub(slot.capacity.macrocells);
            excess += (cells + inputs).saturating_sub(slot.capacity.pins);
            excess += (load.clocks.count_ones() as usize).saturating_sub(1);
            excess += (load.resets.count_ones() as usize).saturating_sub(1);
            excess += (load.members & slot.forbidden).count_ones() as usize;
            excess += self.refused.iter().filter(|&&(kind, set)| kind == slot.kind && set & !load.members == 0).count();
            let on = load.reads.or(load.drives);
            ends += on.len();
            all = all.or(on);
        }
        (excess, ends - all.len())
    }

    fn cost(&self, groups: &[usize]) -> (usize, usize) {
        let (excess, wires) = self.judge(&self.loads(groups), Set::default());
        (excess, excess * TOO_FULL + wires)
    }

    /// Moves and exchanges units, at first also where that makes it worse. The same seed gives the same result.
    fn cool(&self, seed: u64) -> Option<(Vec<usize>, usize)> {
        let mut random = Xorshift::new(seed);
        let mut next = move |below: usize| (random.word() % below.max(1) as u64) as usize;
        let count = self.units.len();
        let mut groups: Vec<usize> = (0..count).map(|i| i * self.slots.len() / count.max(1)).collect();
        let (mut excess, mut cost) = self.cost(&groups);
        let mut best = (excess == 0).then(|| (groups.clone(), cost));
        if self.slots.len() == 1 {
            return best;
        }
        for step in 0..MOVES {
            if step % LOOK == 0 && self.limit.over().is_some() {
                break;
            }
            let before = groups.clone();
            let (a, b) = (next(count), next(count));
            if next(2) == 0 {
                if let Some(group) = groups.get_mut(a) {
                    *group = next(self.slots.len());
                }
            } else {
                groups.swap(a, b);
            }
            let (its_excess, its_cost) = self.cost(&groups);
            // the loss that is still accepted falls from about one overfull device to nothing
            let slack = (MOVES - step) * TOO_FULL / MOVES / 8;
            if its_cost <= cost + if slack > 0 { next(slack + 1) } else { 0 } {
                (excess, cost) = (its_excess, its_cost);
                if excess == 0 && best.as_ref().is_none_or(|(_, least)| cost < *least) {
                    best = Some((groups.clone(), cost));
                }
            } else {
                groups = before;
            }
        }
        best
    }
}

struct Exact<'p> {
    problem: &'p Problem<'p>,
    best: Option<(Vec<usize>, usize)>,
    steps: usize,
    groups: Vec<usize>,
}

impl Exact<'_> {
    /// Whether every way was looked at, or ruled out by what it has in part.
    fn search(&mut self) -> bool {
        let loads = vec![Load::default(); self.problem.slots.len()];
        self.place(&loads)
    }

    fn place(&mut self, loads: &[Load]) -> bool {
        let Some(steps) = self.steps.checked_sub(1) else { return false };
        self.steps = steps;
        if steps % LOOK == 0 && self.problem.limit.over().is_some() {
            self.steps = 0;
            return false;
        }
        let index = self.groups.len();
        let later = self.problem.units.iter().skip(index).fold(Set::default(), |s, u| s.or(u.drives));
        let (excess, wires) = self.problem.judge(loads, later);
        if excess > 0 || self.best.as_ref().is_some_and(|(_, least)| wires >= *least) {
            return true;
        }
        let Some(unit) = self.problem.units.get(index) else {
            self.best = Some((self.groups.clone(), wires));
            return true;
        };
        let mut whole = true;
        // devices of one type without units are alike: one of them is enough
        let mut empty: Vec<usize> = Vec::new();
        for (group, slot) in self.problem.slots.iter().enumerate() {
            if loads.get(group).is_some_and(|l| l.members == 0) {
                if empty.contains(&slot.kind) {
                    continue;
                }
                empty.push(slot.kind);
            }
            let mut with = loads.to_vec();
            if let Some(load) = with.get_mut(group) {
                load.add(index, unit);
            }
            self.groups.push(group);
            whole &= self.place(&with);
            self.groups.pop();
            if self.steps == 0 {
                return false;
            }
        }
        whole
    }
}
