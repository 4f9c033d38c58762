//! Fault simulation: all flips under the same vectors, and which of them a tester has found.
use std::rc::Rc;

use super::flip::{Change, Flip};
use crate::vectors::socket::array::Array;
use crate::vectors::socket::bank::{Bank, State};
use crate::vectors::socket::rules::Step;
use crate::vectors::socket::settle::Shift;
use crate::vectors::socket::ternary::Ternary;

/// How a device differs from the good one, by lane.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::vectors) struct Seen {
    /// A tested pin is at the wrong level, or driven where it ought to float.
    pub(in crate::vectors) found: u64,
    /// A pin floats that ought to be low: found by a tester whose open inputs read high.
    pub(in crate::vectors) up: u64,
    /// A pin floats that ought to be high: found by a tester whose open inputs read low.
    pub(in crate::vectors) down: u64,
    /// What a tested pin shows depends on delays, or on what a floating pin is read as.
    pub(in crate::vectors) vague: u64,
}

/// What was seen of a flip that isn't found for certain.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::vectors) struct Hint {
    pub(in crate::vectors) up: bool,
    pub(in crate::vectors) down: bool,
    pub(in crate::vectors) vague: bool,
}

/// A pin of the good device that a tester looks at.
#[derive(Clone, Copy, Debug)]
struct Tested {
    cell: usize,
    pin: usize,
    /// The lanes in which it is driven, and by nobody else.
    on: u64,
    /// The lanes in which nobody drives it.
    off: u64,
    level: Ternary,
}

/// The good device at rest as a tester sees it.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Shown(Vec<Tested>);

impl Shown {
    pub(in crate::vectors) fn new(good: &Bank, g: &State) -> Shown {
        let tested = |(index, cell): (usize, &crate::vectors::socket::array::Cell)| {
            let free = !g.outside.get(cell.pin).map_or(0, |o| o.is_known());
            let enable = good.enable(g, cell);
            // while it is driven by nobody else, the pin has what the cell shows
            let level = g.pins.get(cell.pin).copied().unwrap_or(Ternary::UNKNOWN);
            Tested { cell: index, pin: cell.pin, on: enable.is_high() & free, off: enable.is_low() & free, level }
        };
        Shown(good.array.cells.iter().enumerate().map(tested).collect())
    }

    /// Compares the tested pins with those of another device; `floating` is whether a tester can see that a pin floats.
    pub(in crate::vectors) fn beside(&self, bad: &Bank, b: &State, floating: bool) -> Seen {
        let mut seen = Seen::default();
        for t in &self.0 {
            let its = match bad.array.cells.get(t.cell).filter(|c| c.pin == t.pin) {
                Some(its) => its,
                None => match bad.array.cells.iter().find(|c| c.pin == t.pin) {
                    Some(its) => its,
                    None => continue,
                },
            };
            if t.on == 0 && !(floating && t.off != 0) {
                continue;
            }
            let enable = bad.enable(b, its);
            let level = b.pins.get(t.pin).copied().unwrap_or(Ternary::UNKNOWN);
            let both = t.on & enable.is_high();
            seen.found |= both & ((t.level.is_high() & level.is_low()) | (t.level.is_low() & level.is_high()));
            let off = t.on & enable.is_low();
            seen.up |= off & t.level.is_low();
            seen.down |= off & t.level.is_high();
            let tested = t.on & t.level.is_known();
            seen.vague |= tested & enable.can_high & (!enable.is_known() | !level.is_known());
            if floating {
                seen.found |= t.off & enable.is_high();
            }
        }
        seen
    }
}

/// Compares the tested pins of two devices at rest; `floating` is whether a tester can see that a pin floats.
pub(in crate::vectors) fn compare(good: &Bank, g: &State, bad: &Bank, b: &State, floating: bool) -> Seen {
    Shown::new(good, g).beside(bad, b, floating)
}

/// How many flips are found: by every tester, by those whose open inputs read high, by those whose open inputs read low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::vectors) struct Tally {
    found: usize,
    to_high: usize,
    to_low: usize,
}

impl Tally {
    /// Whether each kind of tester finds at least as many.
    pub(in crate::vectors) fn covers(self, other: Tally) -> bool {
        self.found >= other.found && self.to_high >= other.to_high && self.to_low >= other.to_low
    }
}

/// The most registers of which every content at power-up is tried where it is not known.
const MOST_REGISTERS: usize = 8;

/// Up to sixty-four flips that run together, or one flip from sixty-four contents of its registers at power-up.
#[derive(Clone, Debug)]
struct Run {
    bank: Rc<Bank>,
    state: State,
    /// The flip of each lane.
    flips: Rc<[usize]>,
    open: u64,
    up: u64,
    down: u64,
    vague: u64,
    kind: Kind,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// The good array but for a flip in a row of each lane.
    Common,
    /// An array of its own in one lane.
    Alone,
    /// The same flip in all lanes, each with another content of the registers at power-up; these are some of them.
    Starts,
}

impl Run {
    /// What a vector changed at the good device changes here.
    fn follow(&mut self, good: &Bank, step: &Step, change: &Shift) {
        if self.bank.array.clock == good.array.clock {
            self.bank.follow(&mut self.state, change);
        } else {
            self.bank.apply(&mut self.state, &step.outside(), step.pulse);
        }
    }
}

/// The good device and all others, at one point of a list of vectors.
#[derive(Clone, Debug)]
pub(in crate::vectors) struct Campaign {
    pub(in crate::vectors) good: State,
    runs: Vec<Run>,
    /// For each flip, whether it was found.
    pub(in crate::vectors) found: Vec<bool>,
}

impl Campaign {
    /// All at power-up. For the flips in `by_starts` every content of the registers is run on its own, so that what
    /// vectors find from each of them counts, though no single content can be relied on.
    pub(in crate::vectors) fn new(good: &Bank, flips: &[Flip], by_starts: &[usize]) -> Campaign {
        let is_common = |f: &usize| flips.get(*f).is_some_and(|f| !matches!(f.what, Change::Setup(_)));
        let common: Vec<usize> = (0..flips.len()).filter(|f| is_common(f) && !by_starts.contains(f)).collect();
        let start = good.power_up();
        let fresh = |flips: Rc<[usize]>, bank: Bank, kind| {
            let open = lanes(flips.len());
            let state = bank.power_up();
            Run { bank: Rc::new(bank), state, flips, open, up: 0, down: 0, vague: 0, kind }
        };
        let mut runs: Vec<Run> =
            common.chunks(64).map(|chunk| fresh(chunk.into(), bank(&good.array, flips, chunk), Kind::Common)).collect();
        for (index, flip) in flips.iter().enumerate() {
            if by_starts.contains(&index) {
                runs.extend(starts(Rc::new(Bank::new(flipped(&good.array, flip))), index));
            } else if let Change::Setup(array) = &flip.what {
                runs.push(fresh(Rc::from([index]), Bank::new((**array).clone()), Kind::Alone));
            }
        }
        Campaign { good: start, runs, found: vec![false; flips.len()] }
    }

    /// What is found by now.
    pub(in crate::vectors) fn tally(&self) -> Tally {
        let found = self.found.iter().filter(|found| **found).count();
        let some = |of: &Run| if of.kind == Kind::Starts { (0, 0) } else { (of.open & of.up, of.open & of.down) };
        let of_some = self.runs.iter().map(some);
        let (up, down) = of_some.fold((0, 0), |(u, d), (up, down)| (u + up.count_ones(), d + down.count_ones()));
        Tally { found, to_high: found + up as usize, to_low: found + down as usize }
    }

    /// How many aren't found yet.
    pub(in crate::vectors) fn open(&self) -> usize {
        self.found.iter().filter(|found| !**found).count()
    }

    /// Applies a vector to the good device; what it changes is the same for all others.
    fn apply(&mut self, good: &Bank, step: &Step) -> (Shown, Shift) {
        let change = Shift::new(good.array.clock, &self.good.outside, &step.outside(), step.pulse);
        good.follow(&mut self.good, &change);
        (Shown::new(good, &self.good), change)
    }

    /// Applies a vector to all; returns how many flips it finds.
    pub(in crate::vectors) fn step(&mut self, good: &Bank, flips: &[Flip], step: &Step, floating: bool) -> usize {
        let (shown, change) = self.apply(good, step);
        let mut found = 0;
        for run in &mut self.runs {
            run.follow(good, step, &change);
            let seen = shown.beside(&run.bank, &run.state, floating);
            (run.up, run.down, run.vague) = (run.up | seen.up, run.down | seen.down, run.vague | seen.vague);
            // open inputs of a tester read one level, whichever it is: once both were wrong, one of them was seen
            let new = (seen.found | (run.up & run.down)) & run.open;
            run.open &= !new;
            if run.kind == Kind::Starts {
                continue;
            }
            found += new.count_ones() as usize;
            for (_, flip) in run.flips.iter().enumerate().filter(|(lane, _)| new >> lane & 1 == 1) {
                if let Some(f) = self.found.get_mut(*flip) {
                    *f = true;
                }
            }
        }
        let started = self.runs.iter().filter(|r| r.kind == Kind::Starts);
        let (mut done, left): (Vec<&Run>, Vec<&Run>) = started.partition(|r| r.open == 0);
        done.retain(|r| left.iter().all(|l| l.flips != r.flips));
        for flip in done.iter().flat_map(|r| r.flips.iter()) {
            if let Some(f) = self.found.get_mut(*flip) {
                found += usize::from(!std::mem::replace(f, true));
            }
        }
        self.runs.retain(|run| run.open != 0);
        self.pack(good, flips);
        found
    }

    /// Without the flips that a list leaves out: it says where each of the others stands then.
    pub(in crate::vectors) fn renumber(&mut self, places: &[Option<usize>]) {
        let to = |flip: &usize| places.get(*flip).copied().flatten();
        self.runs.retain_mut(|run| {
            let stays = run.flips.iter().enumerate().filter(|(_, flip)| to(flip).is_some());
            let lanes = stays.fold(0, |lanes, (lane, _)| lanes | 1 << lane);
            run.open &= if run.kind == Kind::Starts { u64::MAX * (lanes & 1) } else { lanes };
            run.flips = run.flips.iter().map(|flip| to(flip).unwrap_or(usize::MAX)).collect();
            run.open != 0
        });
        let found = std::mem::take(&mut self.found);
        self.found =
            found.into_iter().zip(places).filter(|(_, place)| place.is_some()).map(|(found, _)| found).collect();
    }

    /// Whether this and the other stand alike and have found the same, so that the same vectors do the same to both.
    pub(in crate::vectors) fn stands_like(&self, other: &Campaign) -> bool {
        let alike = |(a, b): (&Run, &Run)| {
            let seen = |r: &Run| [r.open, r.open & r.up, r.open & r.down];
            let lanes = a.open;
            a.flips == b.flips && seen(a) == seen(b) && a.state.is_like(&b.state, lanes)
        };
        self.runs.len() == other.runs.len()
            && self.good == other.good
            && self.runs.iter().zip(&other.runs).all(alike)
            && self.found == other.found
    }

    /// For each flip the last of these vectors that finds it whatever was found before, from power-up; none for flips that no
    /// single vector finds.
    pub(in crate::vectors) fn lasts(mut self, good: &Bank, steps: &[Step], floating: bool) -> Vec<Option<usize>> {
        let mut lasts = vec![None; self.found.len()];
        self.runs.retain(|run| run.kind != Kind::Starts);
        for (at, step) in steps.iter().enumerate() {
            let (shown, change) = self.apply(good, step);
            for run in &mut self.runs {
                run.follow(good, step, &change);
                let found = shown.beside(&run.bank, &run.state, floating).found;
                for (_, flip) in run.flips.iter().enumerate().filter(|(lane, _)| found >> lane & 1 == 1) {
                    if let Some(last) = lasts.get_mut(*flip) {
                        *last = Some(at);
                    }
                }
            }
        }
        lasts
    }

    /// Packs the flips that are left into as few runs as possible, once that is worth it.
    fn pack(&mut self, good: &Bank, flips: &[Flip]) {
        let common = self.runs.iter().filter(|r| r.kind == Kind::Common);
        let (count, open) = common.fold((0, 0), |(n, open), r| (n + 1, open + r.open.count_ones() as usize));
        if count * 64 <= 2 * open + 64 {
            return;
        }
        let (old, mut runs): (Vec<Run>, Vec<Run>) =
            std::mem::take(&mut self.runs).into_iter().partition(|r| r.kind == Kind::Common);
        let left: Vec<(usize, u32, usize)> = old
            .iter()
            .enumerate()
            .flat_map(|(r, run)| {
                let lane =
                    move |(lane, &flip): (usize, &usize)| (run.open >> lane & 1 == 1).then_some((r, lane as u32, flip));
                run.flips.iter().enumerate().filter_map(lane)
            })
            .collect();
        for chunk in left.chunks(64) {
            let of: Vec<usize> = chunk.iter().map(|c| c.2).collect();
            let packed = bank(&good.array, flips, &of);
            let mut run = Run {
                state: packed.power_up(),
                bank: Rc::new(packed),
                open: lanes(of.len()),
                flips: of.into(),
                up: 0,
                down: 0,
                vague: 0,
                kind: Kind::Common,
            };
            for (to, &(from, lane, _)) in chunk.iter().enumerate() {
                let Some(old) = old.get(from) else { continue };
                run.state.set_lane(to as u32, &old.state, lane);
                run.up |= (old.up >> lane & 1) << to;
                run.down |= (old.down >> lane & 1) << to;
                run.vague |= (old.vague >> lane & 1) << to;
            }
            runs.push(run);
        }
        self.runs = runs;
    }

    /// For each cell, how many open flips have left its register with another content than it ought to have.
    pub(in crate::vectors) fn latent(&self) -> Vec<u32> {
        let common = || self.runs.iter().filter(|r| r.kind == Kind::Common);
        let differs = |cell: usize, q: Ternary, run: &Run| {
            let its = run.state.q.get(cell).copied().unwrap_or(q);
            (run.open & its.is_known() & q.is_known() & q.differs(its)).count_ones()
        };
        let of = |(cell, q): (usize, &Ternary)| common().map(|run| differs(cell, *q, run)).sum();
        self.good.q.iter().enumerate().map(of).collect()
    }

    /// How many runs a vector costs.
    pub(in crate::vectors) fn cost(&self) -> usize {
        self.runs.len() + 1
    }

    /// The flips that aren't found because nothing is known of their registers at power-up, or may be.
    pub(in crate::vectors) fn vague(&self) -> Vec<usize> {
        let open = self.found.iter().enumerate().filter(|(_, found)| !**found).map(|(flip, _)| flip);
        open.filter(|&flip| self.state_of(flip).is_some_and(|(_, hint)| hint.vague)).collect()
    }

    /// Where the device with this flip stands, in all lanes, and what was seen of it.
    pub(in crate::vectors) fn state_of(&self, flip: usize) -> Option<(State, Hint)> {
        self.runs.iter().find_map(|run| {
            let lane = match run.kind {
                Kind::Starts => run.flips.contains(&flip).then(|| run.open.trailing_zeros() as usize & 63)?,
                Kind::Common | Kind::Alone => run.flips.iter().position(|&f| f == flip)?,
            };
            let bit = |word: u64| word >> lane & 1 == 1;
            let hint = Hint { up: bit(run.up), down: bit(run.down), vague: bit(run.vague) };
            Some((run.state.spread(lane as u32), hint))
        })
    }
}

/// One flip from every content of its registers at power-up; from none if these are too many.
fn starts(bank: Rc<Bank>, flip: usize) -> Vec<Run> {
    let registers: Vec<usize> =
        bank.array.cells.iter().enumerate().filter(|(_, c)| c.is_register).map(|(index, _)| index).collect();
    let known = registers.len().min(MOST_REGISTERS);
    let words = 1usize << known.saturating_sub(6);
    let word = |word: usize| {
        let mut state = bank.power_up();
        for (bit, &register) in registers.iter().take(known).enumerate() {
            let high = (0..64).filter(|lane| (word * 64 + lane) >> bit & 1 == 1).fold(0u64, |m, lane| m | 1 << lane);
            if let Some(q) = state.q.get_mut(register) {
                *q = Ternary { can_low: !high, can_high: high };
            }
        }
        let open = lanes(1 << known);
        Run {
            bank: Rc::clone(&bank),
            state,
            flips: Rc::from([flip]),
            open,
            up: 0,
            down: 0,
            vague: 0,
            kind: Kind::Starts,
        }
    };
    (0..words).map(word).collect()
}

/// The device with one fuse in the wrong state.
pub(in crate::vectors) fn flipped(array: &Array, flip: &Flip) -> Array {
    let mut array = array.clone();
    match &flip.what {
        &Change::Link { row, pair, complement } => {
            if let Some(r) = array.rows.get_mut(row) {
                *r = Rc::new(r.flipped(pair, complement));
            }
        }
        &Change::Term { row } => {
            if let Some(r) = array.rows.get_mut(row) {
                *r = Rc::new(r.switched());
            }
        }
        Change::Setup(other) => array = (**other).clone(),
    }
    array
}

fn lanes(count: usize) -> u64 {
    if count >= 64 { u64::MAX } else { (1 << count) - 1 }
}

/// The array with one flip in each lane.
fn bank(array: &Array, flips: &[Flip], of: &[usize]) -> Bank {
    let mut bank = Bank::new(array.clone());
    for (lane, flip) in of.iter().enumerate() {
        match flips.get(*flip).map(|f| &f.what) {
            Some(&Change::Link { row, pair, complement }) => bank.flip_link(lane as u32, row, pair, complement),
            Some(&Change::Term { row }) => bank.flip_term(lane as u32, row),
            Some(Change::Setup(_)) | None => {}
        }
    }
    bank.close();
    bank
}
