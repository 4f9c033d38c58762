//! Going everywhere with the good device and the one with a flip side by side: every vector from every state that vectors
//! lead to, until one tells them apart or nothing new is left.
use std::collections::HashSet;

use super::cone::Cone;
use super::moves::{Level, Moves};
use crate::vectors::flips::campaign::{Hint, compare};
use crate::vectors::socket::bank::State;
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

/// Bits at most that a power-up leaves open.
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

/// A state of both, with how it came about.
struct Node {
    good: State,
    bad: State,
    up: bool,
    down: bool,
    from: usize,
    levels: Vec<Level>,
    pulse: bool,
}

/// What tells states apart: two bits for everything that is remembered.
type Key = [u64; 4];

impl Explorer<'_> {
    /// Looks for vectors from here on that show the flip, the fewest first.
    pub(super) fn show(&mut self, good: &State, bad: &State, hint: Hint) -> Outcome {
        let first = Node {
            good: self.cone.cut(good),
            bad: self.cone.cut(bad),
            up: hint.up,
            down: hint.down,
            from: 0,
            levels: Vec::new(),
            pulse: false,
        };
        let mut to_some = None;
        let mut whole = true;
        let mut seen: HashSet<Key> = HashSet::new();
        let mut nodes = vec![first];
        let mut at = 0;
        while at < nodes.len() {
            let Some(moves) = nodes.get(at).map(|n| Moves::new(self.cone, self.board, &n.good)) else { break };
            whole &= moves.whole;
            let words = (0..2).flat_map(|pulse| (0..moves.words(pulse)).map(move |word| (pulse, word)));
            for (pulse, word) in words {
                if self.work == 0 {
                    return to_some.map_or(Outcome::Unfinished, |path| Outcome::ToSome(path, false));
                }
                self.work = self.work.saturating_sub(self.cone.cost);
                let Some(node) = nodes.get(at) else { break };
                let (levels, lanes) = moves.word(self.cone, pulse, word, &node.good);
                let pulse = pulse == 1;
                let (mut g, mut b) = (node.good.clone(), node.bad.clone());
                let outside = self.outside(node, &levels);
                let pin = pulse.then_some(self.cone.clock).flatten();
                let on = self.cone.good.apply(&mut g, &outside, pin);
                let legal = lanes & !Rules::fights(&self.cone.good, &node.good, &outside, &on);
                if legal == 0 {
                    continue;
                }
                self.cone.bad.apply(&mut b, &outside, pin);
                let is = compare(&self.cone.good, &g, &self.cone.bad, &b, self.floating);
                let all = |flag: bool| if flag { u64::MAX } else { 0 };
                let (up, down) = (is.up | all(node.up), is.down | all(node.down));
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
                let keys = self.keys(&g, &b, up, down);
                let mut left = legal;
                while left != 0 {
                    let lane = left.trailing_zeros();
                    left &= left - 1;
                    if !keys.get(lane as usize).is_some_and(|key| seen.insert(*key)) {
                        continue;
                    }
                    nodes.push(Node {
                        good: g.spread(lane),
                        bad: b.spread(lane),
                        up: up >> lane & 1 == 1,
                        down: down >> lane & 1 == 1,
                        from: at,
                        levels: levels.iter().map(|l| l.lane(lane)).collect(),
                        pulse,
                    });
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
        let mut seen: HashSet<Key> = HashSet::new();
        let mut nodes: Vec<Node> = Vec::new();
        for (good, bad) in first {
            if !each(&good, &bad, u64::MAX) {
                return false;
            }
            nodes.extend(self.new_nodes(&good, &bad, u64::MAX, &mut seen));
        }
        let mut at = 0;
        while at < nodes.len() {
            let Some(moves) = nodes.get(at).map(|n| Moves::new(self.cone, self.board, &n.good)) else { break };
            if !moves.whole {
                return false;
            }
            let words = (0..2).flat_map(|pulse| (0..moves.words(pulse)).map(move |word| (pulse, word)));
            for (pulse, word) in words {
                if self.work == 0 {
                    return false;
                }
                self.work = self.work.saturating_sub(self.cone.cost);
                let Some(node) = nodes.get(at) else { break };
                let (levels, lanes) = moves.word(self.cone, pulse, word, &node.good);
                let (mut g, mut b) = (node.good.clone(), node.bad.clone());
                let outside = self.outside(node, &levels);
                let pin = (pulse == 1).then_some(self.cone.clock).flatten();
                self.cone.good.apply_on_board(&mut g, &outside, pin);
                self.cone.bad.apply_on_board(&mut b, &outside, pin);
                let open = lanes & self.unknown(&g);
                if open != 0 {
                    let (mut settled, mut its) = (node.good.clone(), node.bad.clone());
                    self.cone.good.apply_at_once(&mut settled, &outside, pin);
                    self.cone.bad.apply_at_once(&mut its, &outside, pin);
                    (g, b) = (settled.in_lanes(open, &g), its.in_lanes(open, &b));
                }
                if !each(&g, &b, lanes) {
                    return false;
                }
                let new = self.new_nodes(&g, &b, lanes, &mut seen);
                nodes.extend(new);
            }
            at += 1;
        }
        true
    }

    fn new_nodes(&self, g: &State, b: &State, lanes: u64, seen: &mut HashSet<Key>) -> Vec<Node> {
        let keys = self.keys(g, b, 0, 0);
        let mut nodes = Vec::new();
        for (lane, key) in (0u32..).zip(keys).filter(|(lane, _)| lanes >> lane & 1 == 1) {
            if seen.insert(key) {
                nodes.push(Node {
                    good: g.spread(lane),
                    bad: b.spread(lane),
                    up: false,
                    down: false,
                    from: 0,
                    levels: Vec::new(),
                    pulse: false,
                });
            }
        }
        nodes
    }

    /// The levels outside all pins.
    fn outside(&self, node: &Node, levels: &[Ternary]) -> Vec<Ternary> {
        let mut outside = node.good.outside.clone();
        let pins = self.cone.inputs.iter().map(|i| Some(i.pin)).chain([self.cone.clock]);
        for (pin, level) in pins.zip(levels) {
            if let Some(to) = pin.and_then(|p| outside.get_mut(p)) {
                *to = *level;
            }
        }
        outside
    }

    /// What tells the lanes apart.
    fn keys(&self, g: &State, b: &State, up: u64, down: u64) -> Vec<Key> {
        let (good, bad) = (&self.cone.good.array, &self.cone.bad.array);
        let mut bits: Vec<u64> = vec![up, down];
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
        for (at, word) in bits.into_iter().enumerate() {
            let mut left = word;
            while left != 0 {
                let lane = left.trailing_zeros() as usize;
                left &= left - 1;
                if let Some(to) = keys.get_mut(lane).and_then(|key| key.get_mut(at / 64)) {
                    *to |= 1 << (at % 64);
                }
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
        while let Some(n) = node.filter(|n| !n.levels.is_empty()) {
            all.push((n.levels.clone(), n.pulse));
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
