//! Exhaustive exploration of the good device and the one with a flip side by side: every vector from every state that
//! vectors lead to, until one distinguishes them or nothing new is left.
use std::rc::Rc;

use rustc_hash::FxHashSet;

use super::cone::Cone;
use super::moves::{Level, Moves};
use crate::vectors::flips::campaign::{Hint, compare};
use crate::vectors::socket::bank::{Bank, State};
use crate::vectors::socket::rules::{Rules, Step};
use crate::vectors::socket::ternary::Ternary;

/// What came of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    /// These vectors tell the two apart.
    Shown(Vec<Step>),
    /// These show it to some testers; none to all of them, if everything was tried.
    ToSome(Vec<Step>, bool),
    /// None do.
    Nothing,
    /// There was more to try than was allowed.
    Unfinished,
}

impl Outcome {
    /// The same with these vectors first.
    pub(super) fn after(self, mut first: Vec<Step>) -> Outcome {
        match self {
            Outcome::Shown(steps) => {
                first.extend(steps);
                Outcome::Shown(first)
            }
            Outcome::ToSome(steps, whole) => {
                first.extend(steps);
                Outcome::ToSome(first, whole)
            }
            other => other,
        }
    }
}

/// The most bits that a power-up leaves open.
const MOST_STARTS: usize = 12;

pub(super) struct Explorer<'a> {
    pub(super) cone: &'a Cone,
    /// Whether a tester can see that a pin floats.
    pub(super) floating: bool,
    /// On a board, where every pin has a level and gives way to the device; else in a tester.
    pub(super) board: bool,
    /// What may still be spent, in the [cost](Cone::cost) of words of sixty-four vectors.
    pub(super) work: usize,
}

/// States of both, sixty-four side by side, and the levels that led to them.
struct Word {
    good: State,
    bad: State,
    levels: Vec<Ternary>,
    pulse: bool,
}

/// A state of both, with how it came about: most are never gone on from, so they stay where they were found.
struct Node {
    word: Rc<Word>,
    lane: u32,
    up: bool,
    down: bool,
    from: usize,
}

impl Node {
    /// Where both stand.
    fn stand(&self) -> (State, State) {
        (self.word.good.spread(self.lane), self.word.bad.spread(self.lane))
    }

    fn levels(&self) -> Vec<Level> {
        self.word.levels.iter().map(|l| l.lane(self.lane)).collect()
    }
}

/// The key of a state: two bits for everything that is remembered.
type Key = [u64; 4];

impl Explorer<'_> {
    /// Looks for vectors from here on that show the flip, the fewest first.
    pub(super) fn show(&mut self, good: &State, bad: &State, hint: Hint) -> Outcome {
        let word = Word { good: self.cone.cut(good), bad: self.cone.cut(bad), levels: Vec::new(), pulse: false };
        let first = Node { word: Rc::new(word), lane: 0, up: hint.up, down: hint.down, from: 0 };
        let mut to_some = None;
        let mut whole = true;
        let mut seen: FxHashSet<Key> = FxHashSet::default();
        let mut nodes = vec![first];
        let mut at = 0;
        while at < nodes.len() {
            let Some(((good_now, bad_now), node)) = nodes.get(at).map(|n| (n.stand(), (n.up, n.down))) else { break };
            let moves = Moves::new(self.cone, self.board, &good_now);
            whole &= moves.whole;
            let words = (0..2).flat_map(|pulse| (0..moves.words(pulse)).map(move |word| (pulse, word)));
            for (pulse, word) in words {
                if self.work == 0 {
                    return to_some.map_or(Outcome::Unfinished, |path| Outcome::ToSome(path, false));
                }
                self.work = self.work.saturating_sub(self.cone.cost);
                let (levels, lanes) = moves.word(self.cone, pulse, word, &good_now);
                let pulse = pulse == 1;
                let mut g = good_now.clone();
                let outside = self.outside(&good_now, &levels);
                let pin = pulse.then_some(self.cone.clock).flatten();
                let on = self.cone.good.apply(&mut g, &outside, pin);
                let legal = lanes & !Rules::fights(&self.cone.good, &good_now, &outside, &on);
                if legal == 0 {
                    continue;
                }
                let mut b = bad_now.clone();
                self.cone.bad.apply(&mut b, &outside, pin);
                let is = compare(&self.cone.good, &g, &self.cone.bad, &b, self.floating);
                let all = |flag: bool| if flag { u64::MAX } else { 0 };
                let (up, down) = (is.up | all(node.0), is.down | all(node.1));
                let found = (is.found | (up & down)) & legal;
                let path = |lane: u32| {
                    let last = levels.iter().map(|l| l.lane(lane)).collect();
                    self.path(&nodes, at, (last, pulse), good)
                };
                if found != 0 {
                    return Outcome::Shown(path(found.trailing_zeros()));
                }
                let new = (is.up | is.down) & legal;
                if new != 0 && to_some.is_none() && !hint.up && !hint.down {
                    to_some = Some(path(new.trailing_zeros()));
                }
                let keys = self.keys(&g, &b, [up, down], legal);
                let word = Rc::new(Word { good: g, bad: b, levels, pulse });
                let mut left = legal;
                while left != 0 {
                    let lane = left.trailing_zeros();
                    left &= left - 1;
                    if !keys.get(lane as usize).is_some_and(|key| seen.insert(*key)) {
                        continue;
                    }
                    let (up, down) = (up >> lane & 1 == 1, down >> lane & 1 == 1);
                    nodes.push(Node { word: Rc::clone(&word), lane, up, down, from: at });
                }
            }
            at += 1;
        }
        match to_some {
            Some(path) => Outcome::ToSome(path, whole),
            None if whole => Outcome::Nothing,
            None => Outcome::Unfinished,
        }
    }

    /// Whether the two are the same at every pin, at rest, from this power-up and whatever the board then does: every
    /// change of an asynchronous input by itself, all others in any number; what delays decide in the good device is taken
    /// as settling takes it. `false` if they aren't the same, or it can't be told.
    pub(super) fn are_the_same(&mut self, start: Option<bool>) -> bool {
        let cone = self.cone;
        self.walk(start, |g, b, lanes| differ(cone, g, b) & lanes == 0)
    }

    /// Goes through all states of both that a board leads to from this power-up, for as long as `each` says so. Whether it
    /// came to the end.
    pub(super) fn walk(&mut self, start: Option<bool>, mut each: impl FnMut(&State, &State, u64) -> bool) -> bool {
        let Some(first) = self.starts(start) else { return false };
        let mut seen: FxHashSet<Key> = FxHashSet::default();
        let mut nodes: Vec<Node> = Vec::new();
        for (good, bad) in first {
            if !each(&good, &bad, u64::MAX) {
                return false;
            }
            self.new_nodes(good, bad, u64::MAX, &mut seen, &mut nodes);
        }
        let mut at = 0;
        while at < nodes.len() {
            let Some((good_now, bad_now)) = nodes.get(at).map(Node::stand) else { break };
            let moves = Moves::new(self.cone, self.board, &good_now);
            if !moves.whole {
                return false;
            }
            let words = (0..2).flat_map(|pulse| (0..moves.words(pulse)).map(move |word| (pulse, word)));
            for (pulse, word) in words {
                if self.work == 0 {
                    return false;
                }
                self.work = self.work.saturating_sub(self.cone.cost);
                let (levels, lanes) = moves.word(self.cone, pulse, word, &good_now);
                let outside = self.outside(&good_now, &levels);
                let pin = (pulse == 1).then_some(self.cone.clock).flatten();
                let mut g = good_now.clone();
                self.cone.good.apply_on_board(&mut g, &outside, pin);
                let open = lanes & self.unknown(&g);
                let goes = |bank: &Bank, from: &State, on: State| {
                    if open == 0 {
                        return on;
                    }
                    let mut settled = from.clone();
                    bank.apply_at_once(&mut settled, &outside, pin);
                    settled.in_lanes(open, &on)
                };
                g = goes(&self.cone.good, &good_now, g);
                let b = if self.cone.alike {
                    g.clone()
                } else {
                    let mut b = bad_now.clone();
                    self.cone.bad.apply_on_board(&mut b, &outside, pin);
                    goes(&self.cone.bad, &bad_now, b)
                };
                if !each(&g, &b, lanes) {
                    return false;
                }
                self.new_nodes(g, b, lanes, &mut seen, &mut nodes);
            }
            at += 1;
        }
        true
    }

    fn new_nodes(&self, g: State, b: State, lanes: u64, seen: &mut FxHashSet<Key>, nodes: &mut Vec<Node>) {
        let keys = self.keys(&g, &b, [0, 0], lanes);
        let word = Rc::new(Word { good: g, bad: b, levels: Vec::new(), pulse: false });
        for (lane, key) in (0u32..).zip(keys).filter(|(lane, _)| lanes >> lane & 1 == 1) {
            if seen.insert(key) {
                nodes.push(Node { word: Rc::clone(&word), lane, up: false, down: false, from: 0 });
            }
        }
    }

    /// The levels outside all pins.
    fn outside(&self, standing: &State, levels: &[Ternary]) -> Vec<Ternary> {
        let mut outside = standing.outside.clone();
        let pins = self.cone.inputs.iter().map(|i| Some(i.pin)).chain([self.cone.clock]);
        for (pin, level) in pins.zip(levels) {
            if let Some(to) = pin.and_then(|p| outside.get_mut(p)) {
                *to = *level;
            }
        }
        outside
    }

    /// The keys of the states in these lanes.
    fn keys(&self, g: &State, b: &State, seen: [u64; 2], lanes: u64) -> Vec<Key> {
        let (good, bad) = (&self.cone.good.array, &self.cone.bad.array);
        let mut bits: Vec<u64> = seen.to_vec();
        let mut push = |t: Option<&Ternary>| bits.extend(t.map_or([0, 0], |t| [t.can_low, t.can_high]));
        for (index, (cell, its)) in good.cells.iter().zip(&bad.cells).enumerate() {
            if cell.is_register {
                push(g.q.get(index));
            }
            if its.is_register {
                push(b.q.get(index));
            }
        }
        for cell in self.cone.loops.iter().filter_map(|&c| good.cells.get(c)) {
            push(g.pins.get(cell.pin));
            push(b.pins.get(cell.pin));
        }
        for input in self.cone.inputs.iter().filter(|i| i.remembered) {
            push(g.outside.get(input.pin));
        }
        push(self.cone.clock.and_then(|c| g.outside.get(c)));
        let mut keys = vec![Key::default(); 64];
        for (at, words) in bits.chunks(64).enumerate() {
            let mut block = [0; 64];
            block.iter_mut().zip(words).for_each(|(to, word)| *to = word & lanes);
            transpose(&mut block);
            for (key, bits) in keys.iter_mut().zip(block) {
                key.get_mut(at).into_iter().for_each(|to| *to = bits);
            }
        }
        keys
    }

    /// The lanes in which something that the good device remembers isn't known.
    fn unknown(&self, g: &State) -> u64 {
        let array = &self.cone.good.array;
        let register =
            |(index, c): (usize, &crate::vectors::socket::array::Cell)| c.is_register.then(|| g.q.get(index)).flatten();
        let registers = array.cells.iter().enumerate().filter_map(register);
        let loops = self.cone.loops.iter().filter_map(|&c| g.pins.get(array.cells.get(c)?.pin));
        registers.chain(loops).fold(0, |lanes, t| lanes | !t.is_known())
    }

    /// All power-ups on a board: the registers as the device sets them, loops and pins in all ways.
    fn starts(&self, start: Option<bool>) -> Option<Vec<(State, State)>> {
        let cells = &self.cone.good.array.cells;
        let registers: Vec<usize> = (0..cells.len()).filter(|&c| self.cone.is_register(c)).collect();
        let pins: Vec<usize> = self.cone.inputs.iter().filter(|i| i.remembered).map(|i| i.pin).collect();
        let clock = self.cone.clock.filter(|_| self.cone.reads_clock);
        let open = if start.is_none() { registers.len() } else { 0 };
        let bits = pins.len() + self.cone.loops.len() + open + usize::from(clock.is_some());
        if bits > MOST_STARTS {
            return None;
        }
        let words = (0..(1usize << bits).div_ceil(64)).map(|word| {
            let mut bit = 0;
            let mut next = || {
                let high = (0..64usize).filter(|lane| (word * 64 + lane) >> bit & 1 == 1).fold(0u64, |m, l| m | 1 << l);
                bit += 1;
                Ternary { can_low: !high, can_high: high }
            };
            let mut state = self.cone.good.power_up();
            for input in &self.cone.inputs {
                if let Some(to) = state.outside.get_mut(input.pin) {
                    *to = if input.remembered { next() } else { Ternary::LOW };
                }
            }
            if let Some(to) = self.cone.clock.and_then(|c| state.outside.get_mut(c)) {
                *to = if clock.is_some() { next() } else { Ternary::LOW };
            }
            for &cell in &self.cone.loops {
                if let Some(to) = cells.get(cell).and_then(|c| state.pins.get_mut(c.pin)) {
                    *to = next();
                }
            }
            for &cell in &registers {
                if let Some(to) = state.q.get_mut(cell) {
                    *to = start.map_or_else(&mut next, Ternary::known);
                }
            }
            let (mut good, mut bad) = (state.clone(), state);
            self.cone.good.settle_on_board(&mut good, &self.cone.loops);
            self.cone.bad.settle_on_board(&mut bad, &self.cone.loops);
            (good, bad)
        });
        Some(words.collect())
    }

    /// The vectors that lead to a state, and this one from there; pins outside the cone stay as they are.
    fn path(&self, nodes: &[Node], at: usize, last: (Vec<Level>, bool), start: &State) -> Vec<Step> {
        let mut all = vec![last];
        let mut node = nodes.get(at);
        while let Some(n) = node.filter(|n| !n.word.levels.is_empty()) {
            all.push((n.levels(), n.word.pulse));
            node = nodes.get(n.from);
        }
        let standing: Vec<Level> = start.outside.iter().map(|o| o.lane(0)).collect();
        let step = |(levels, pulse): (Vec<Level>, bool)| {
            let mut drive = standing.clone();
            let pins = self.cone.inputs.iter().map(|i| Some(i.pin)).chain([self.cone.clock]);
            for (pin, level) in pins.zip(levels) {
                if let Some(to) = pin.and_then(|p| drive.get_mut(p)) {
                    *to = level;
                }
            }
            Step { drive, pulse: pulse.then_some(self.cone.clock).flatten() }
        };
        all.into_iter().rev().map(step).collect()
    }
}

/// Bit n of word m goes to bit m of word n: blocks of a matrix change places with those across the diagonal, from half its width
/// down to single bits (H. S. Warren, *Hacker's Delight*, 7-3).
fn transpose(block: &mut [u64; 64]) {
    let (mut width, mut mask) = (32, 0xFFFF_FFFF_u64);
    while width > 0 {
        for pair in block.chunks_mut(2 * width) {
            let (low, high) = pair.split_at_mut(width);
            for (low, high) in low.iter_mut().zip(high) {
                let swapped = ((*low >> width) ^ *high) & mask;
                *high ^= swapped;
                *low ^= swapped << width;
            }
        }
        width /= 2;
        mask ^= mask << width;
    }
}

/// The lanes in which a pin isn't known to be the same.
fn differ(cone: &Cone, g: &State, b: &State) -> u64 {
    let (good, bad) = (&cone.good, &cone.bad);
    let mut lanes = 0;
    for (index, (cell, its)) in good.array.cells.iter().zip(&bad.array.cells).enumerate() {
        if !good.array.ever_drives(cell) && !bad.array.ever_drives(its) {
            continue;
        }
        let (on, on_too) = (good.enable(g, cell), bad.enable(b, its));
        let (shown, its_shown) = (good.shown(g, index, cell), bad.shown(b, index, its));
        lanes |= on.differs(on_too) | !on.is_known();
        lanes |= on.can_high & (shown.differs(its_shown) | !shown.is_known());
    }
    lanes
}

#[cfg(test)]
mod tests {
    use super::*;
    use gluewright_kernel::random::SplitMix;

    #[test]
    fn a_block_is_turned_bit_by_bit() {
        let mut draw = SplitMix::new(1972);
        let block: [u64; 64] = std::array::from_fn(|_| draw.word());
        let mut turned = block;
        transpose(&mut turned);
        for (m, word) in block.iter().enumerate() {
            for (n, other) in turned.iter().enumerate() {
                assert_eq!(word >> n & 1, other >> m & 1, "{m} {n}");
            }
        }
    }
}
