//! An exhaustive walk of what two circuits can do, state by state: a second opinion on refinement for small circuits.
//!
//! It is written from the rules of the semantics alone and shares nothing with the machine that simulates and proves:
//! levels and nets, phases, edges with the data that stood before them, latches, loops, unknowns as branches. The
//! original's states are carried as a set: those that have shown, up to here, what the replacement has shown.
mod loops;
mod program;
mod side;

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet, VecDeque};
use std::rc::Rc;
use std::time::Instant;

use crate::gates::Numbers;
use gluewright::circuit::{Circuit, Label, NetId, Op, Pull};
pub use loops::in_loops;
use side::{Outcome, Shown, Side, State};
pub use side::{alive, alive_behind};

/// What the walk found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// Whatever the replacement shows, some run of the original shows; this many joint states were visited.
    Refines(usize),
    /// The shortest sequence that no run of the original shows has this many events.
    Differs(Sequence),
    /// The replacement does not always come to rest.
    Restless,
    /// A critical race decides: the rules leave it open.
    Race(&'static str),
    /// There is more to visit than was allowed, or no time left.
    TooLarge,
}

/// Levels at power-up and the changes that follow.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sequence {
    /// Every contact that is read.
    pub levels: Vec<(Label, bool)>,
    /// Changes, event by event.
    pub events: Vec<Vec<(Label, bool)>>,
}

/// Whether the board keeps to these levels, asked of contacts by label.
pub type Allowed = dyn Fn(&dyn Fn(&str) -> bool) -> bool;

/// What is asked: two circuits, which levels the board keeps to, which contacts change together.
#[derive(Clone, Copy)]
pub struct Walk<'c> {
    /// The original.
    pub original: &'c Circuit,
    /// The replacement.
    pub replacement: &'c Circuit,
    /// Whether these levels can be.
    pub allowed: &'c Allowed,
    /// Contacts that change at one moment.
    pub together: &'c [Vec<Label>],
    /// Joint states to visit at most.
    pub most: usize,
    /// When it gives up.
    pub until: Option<Instant>,
}

impl std::fmt::Debug for Walk<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Walk").field("original", &self.original.name).finish_non_exhaustive()
    }
}

/// One contact's levels over an event, without repetitions: 0 low, 1 high, 2 floating, 3 and 4 floating where the two
/// sides pull differently.
type Trace = Vec<Vec<u8>>;

/// What the contacts can show, and where that ends: nowhere if it does not come to rest.
type Outcomes = Vec<(Trace, Option<State>)>;

/// What was found out before of a side in a state, with these levels before and after.
type Cache = HashMap<(State, Vec<bool>, Vec<bool>), Rc<Outcomes>>;

struct Joint<'c> {
    walk: Walk<'c>,
    sides: [Side<'c>; 2],
    labels: Vec<Label>,
    /// The contact of a label on each side.
    contacts: Vec<[Option<usize>; 2]>,
    read: Vec<usize>,
    cache: [Cache; 2],
}

impl<'c> Walk<'c> {
    /// A walk without assumptions.
    pub fn new(original: &'c Circuit, replacement: &'c Circuit, most: usize) -> Self {
        Walk { original, replacement, allowed: &|_| true, together: &[], most, until: None }
    }

    /// The contacts that either side reads.
    pub fn inputs(&self) -> Vec<Label> {
        let j = Joint::new(*self);
        j.read.iter().map(|&i| j.labels[i].clone()).collect()
    }

    /// Visits everything.
    pub fn run(self) -> Found {
        let mut j = Joint::new(self);
        if j.sides.iter().any(|s| s.free_bits() > 14) || j.read.len() > 12 {
            return Found::TooLarge;
        }
        let found = j.explore();
        j.judge(found)
    }

    /// Whether the original explains a drawn run of the replacement of that many events. Nothing if there are too many
    /// starts, if a critical race decides, or if the run does not come to rest.
    pub fn explains_drawn(self, numbers: &mut Numbers, events: usize) -> Option<bool> {
        let mut j = Joint::new(self);
        if j.sides.iter().any(|s| s.free_bits() > 12) {
            return None;
        }
        let mut levels: Vec<bool> = j.labels.iter().map(|_| numbers.below(2) == 1).collect();
        for _ in 0..200 {
            if j.allowed(&levels) {
                break;
            }
            levels = j.labels.iter().map(|_| numbers.below(2) == 1).collect();
        }
        let starts = j.awake(1, &levels, &|_| None);
        let (shown, mut state) = match starts.get(numbers.below(starts.len()))? {
            (shown, Some(state)) => (shown.clone(), state.clone()),
            _ => return None,
        };
        let mut set: BTreeSet<State> =
            j.awake(0, &levels, &|_| None).into_iter().filter(|o| o.0 == shown).filter_map(|o| o.1).collect();
        for _ in 0..events {
            if j.is_late() {
                return None;
            }
            if set.is_empty() {
                return j.sure(true).map(|differs| !differs);
            }
            let next = j.events(&levels);
            let Some(next) = next.get(numbers.below(next.len())) else { break };
            let outcomes = j.step(1, &state, &levels, next);
            let (trace, after) = outcomes.get(numbers.below(outcomes.len()))?;
            set = j.follow(&set, trace, &levels, next);
            state = after.clone()?;
            levels = next.clone();
        }
        if set.is_empty() { j.sure(true).map(|differs| !differs) } else { Some(true) }
    }

    /// Whether no run of the original shows what some run of the replacement shows over this sequence, from these bits
    /// at power-up. Nothing if there are too many starts, or if a critical race decides.
    pub fn replays(self, sequence: &Sequence, held: &[(String, bool)]) -> Option<bool> {
        let mut j = Joint::new(self);
        let levels = |l: &[(Label, bool)], now: &mut Vec<bool>| {
            for (label, high) in l {
                if let Some(i) = j.labels.iter().position(|x| x == label) {
                    now[i] = *high;
                }
            }
        };
        let mut now = vec![false; j.labels.len()];
        levels(&sequence.levels, &mut now);
        let mut path = vec![now.clone()];
        for event in &sequence.events {
            levels(event, &mut now);
            path.push(now.clone());
        }
        if !path.iter().all(|l| j.allowed(l)) {
            return Some(false);
        }
        if j.sides[0].free_bits() > 14 {
            return None;
        }
        let fixed = |name: &str| held.iter().find(|(n, _)| n == name).map(|h| h.1);
        let mut pairs: Vec<(State, BTreeSet<State>)> = Vec::new();
        let originals = j.awake(0, &path[0], &|_| None);
        for (shown, state) in j.awake(1, &path[0], &fixed) {
            let Some(state) = state else { continue };
            let same: BTreeSet<State> = originals.iter().filter(|o| o.0 == shown).filter_map(|o| o.1.clone()).collect();
            if same.is_empty() {
                return j.sure(true);
            }
            pairs.push((state, same));
        }
        for w in path.windows(2) {
            if j.is_late() {
                return None;
            }
            let mut next: Vec<(State, BTreeSet<State>)> = Vec::new();
            for (r, set) in &pairs {
                for (trace, r) in j.step(1, r, &w[0], &w[1]).iter() {
                    let same = j.follow(set, trace, &w[0], &w[1]);
                    if same.is_empty() {
                        return j.sure(true);
                    }
                    if let Some(r) = r
                        && !same.is_empty()
                    {
                        next.push((r.clone(), same));
                    }
                }
            }
            next.sort();
            next.dedup();
            pairs = next;
        }
        j.sure(false)
    }
}

impl<'c> Joint<'c> {
    fn new(walk: Walk<'c>) -> Self {
        let circuits = [walk.original, walk.replacement];
        let sides = circuits.map(Side::new);
        let labels: BTreeSet<Label> =
            circuits.iter().flat_map(|c| c.contacts().iter().map(|c| c.label.clone())).collect();
        let labels: Vec<Label> = labels.into_iter().collect();
        let contacts: Vec<[Option<usize>; 2]> =
            labels.iter().map(|l| circuits.map(|c| c.find_contact(l).map(|c| c.index()))).collect();
        let reads = [0, 1].map(|s| sides[s].reads());
        let is_read = |c: &[Option<usize>; 2]| (0..2).any(|s| c[s].is_some_and(|c| reads[s].contains(&c)));
        let read = (0..labels.len()).filter(|&i| is_read(&contacts[i])).collect();
        Joint { walk, sides, labels, contacts, read, cache: Default::default() }
    }

    fn allowed(&self, levels: &[bool]) -> bool {
        (self.walk.allowed)(&|label| self.labels.iter().position(|l| l.as_str() == label).is_some_and(|i| levels[i]))
    }

    fn is_late(&self) -> bool {
        self.walk.until.is_some_and(|t| Instant::now() > t)
    }

    fn outside(&self, side: usize, levels: &[bool]) -> Vec<bool> {
        let mut outside = vec![false; self.sides[side].circuit.contacts().len()];
        for (c, &level) in self.contacts.iter().zip(levels) {
            if let Some(c) = c[side] {
                outside[c] = level;
            }
        }
        outside
    }

    fn trace(&self, side: usize, views: &[&Shown]) -> Trace {
        let of = |contact: &[Option<usize>; 2]| {
            let pulls = [0, 1].map(|s| contact[s].map_or(Pull::None, |c| self.sides[s].pull(c)));
            let floats = if pulls[0] == pulls[1] { 2 } else { 3 + side as u8 };
            let mut seen: Vec<u8> = Vec::new();
            for v in views {
                seen.push(match contact[side].map_or((false, false), |c| v[c]) {
                    (false, _) => floats,
                    (true, high) => u8::from(high),
                });
            }
            seen.dedup();
            seen
        };
        self.contacts.iter().map(of).collect()
    }

    fn awake(&self, side: usize, levels: &[bool], held: &dyn Fn(&str) -> Option<bool>) -> Outcomes {
        let outside = self.outside(side, levels);
        let woken = self.sides[side].wake(&outside, held);
        let shown = |o: &Outcome| {
            o.state.as_ref().map(|s| self.trace(side, &[&self.sides[side].shown_at(s, &outside)])).unwrap_or_default()
        };
        woken.into_iter().map(|o| (shown(&o), o.state)).collect()
    }

    fn step(&mut self, side: usize, from: &State, was: &[bool], now: &[bool]) -> Rc<Outcomes> {
        let (was, now) = (self.outside(side, was), self.outside(side, now));
        let key = (from.clone(), was, now);
        if let Some(known) = self.cache[side].get(&key) {
            return Rc::clone(known);
        }
        let s = &self.sides[side];
        let before = s.shown_at(from, &key.1);
        let mut all: Outcomes = s
            .step(from, &key.1, &key.2)
            .into_iter()
            .map(|o| {
                let views: Vec<&Shown> = std::iter::once(&before).chain(&o.views).collect();
                (self.trace(side, &views), o.state)
            })
            .collect();
        all.sort();
        all.dedup();
        let all = Rc::new(all);
        self.cache[side].insert(key, Rc::clone(&all));
        all
    }

    /// The original's states after an event that have shown this.
    fn follow(&mut self, set: &BTreeSet<State>, trace: &Trace, was: &[bool], now: &[bool]) -> BTreeSet<State> {
        let mut same = BTreeSet::new();
        for o in set {
            for (shown, state) in self.step(0, o, was, now).iter() {
                if let Some(state) = state
                    && shown == trace
                {
                    same.insert(state.clone());
                }
            }
        }
        same
    }

    /// The events that can happen at these levels: what they become.
    fn events(&self, levels: &[bool]) -> Vec<Vec<bool>> {
        let mut all = Vec::new();
        let grouped = |i: usize| self.walk.together.iter().any(|g| g.contains(&self.labels[i]));
        for &i in self.read.iter().filter(|&&i| !grouped(i)) {
            let mut next = levels.to_vec();
            next[i] = !next[i];
            all.push(next);
        }
        for group in self.walk.together {
            let members: Vec<usize> = group.iter().filter_map(|l| self.labels.iter().position(|x| x == l)).collect();
            for code in 1..1u64 << members.len() {
                let mut next = levels.to_vec();
                for (k, &i) in members.iter().enumerate() {
                    next[i] ^= (code >> k) & 1 == 1;
                }
                all.push(next);
            }
        }
        all.retain(|next| self.allowed(next));
        all
    }

    fn explore(&mut self) -> Found {
        type Key = (Vec<bool>, State, Rc<BTreeSet<State>>);
        let mut parents: Vec<(Option<usize>, Vec<bool>)> = Vec::new();
        let mut visited: HashSet<Key> = HashSet::new();
        let mut queue: VecDeque<(Key, usize)> = VecDeque::new();
        for code in 0..1u64 << self.read.len() {
            let mut levels = vec![false; self.labels.len()];
            for (k, &i) in self.read.iter().enumerate() {
                levels[i] = (code >> k) & 1 == 1;
            }
            if !self.allowed(&levels) {
                continue;
            }
            if self.is_late() {
                return Found::TooLarge;
            }
            let mut by_trace: BTreeMap<Trace, BTreeSet<State>> = BTreeMap::new();
            for (trace, state) in self.awake(0, &levels, &|_| None) {
                if let Some(state) = state {
                    by_trace.entry(trace).or_default().insert(state);
                }
            }
            let by_trace: BTreeMap<Trace, Rc<BTreeSet<State>>> =
                by_trace.into_iter().map(|(t, s)| (t, Rc::new(s))).collect();
            for (trace, state) in self.awake(1, &levels, &|_| None) {
                let Some(state) = state else { return Found::Restless };
                parents.push((None, levels.clone()));
                let Some(same) = by_trace.get(&trace) else {
                    return Found::Differs(self.sequence(&parents, parents.len() - 1));
                };
                let key = (levels.clone(), state, Rc::clone(same));
                if visited.insert(key.clone()) {
                    queue.push_back((key, parents.len() - 1));
                }
            }
        }
        let mut restless = false;
        while let Some(((levels, r, set), at)) = queue.pop_front() {
            if self.is_late() {
                return Found::TooLarge;
            }
            for next in self.events(&levels) {
                for (trace, state) in self.step(1, &r, &levels, &next).iter() {
                    let Some(state) = state else {
                        restless = true;
                        continue;
                    };
                    parents.push((Some(at), next.clone()));
                    let same = self.follow(&set, trace, &levels, &next);
                    if same.is_empty() {
                        return Found::Differs(self.sequence(&parents, parents.len() - 1));
                    }
                    let key = (next.clone(), state.clone(), Rc::new(same));
                    if visited.insert(key.clone()) {
                        if visited.len() > self.walk.most {
                            return Found::TooLarge;
                        }
                        queue.push_back((key, parents.len() - 1));
                    } else {
                        parents.pop();
                    }
                }
            }
        }
        if restless { Found::Restless } else { Found::Refines(visited.len()) }
    }

    fn sequence(&self, parents: &[(Option<usize>, Vec<bool>)], last: usize) -> Sequence {
        let mut path = Vec::new();
        let mut at = Some(last);
        while let Some(i) = at {
            path.push(parents[i].1.clone());
            at = parents[i].0;
        }
        path.reverse();
        let named = |i: usize, high: bool| (self.labels[i].clone(), high);
        let levels = self.read.iter().map(|&i| named(i, path[0][i])).collect();
        let events = path
            .windows(2)
            .map(|w| (0..w[0].len()).filter(|&i| w[0][i] != w[1][i]).map(|i| named(i, w[1][i])).collect())
            .collect();
        Sequence { levels, events }
    }

    /// What stands when a critical race was met: more of the original's outcomes may explain more, and the
    /// replacement may do more than was tried.
    fn judge(&self, found: Found) -> Found {
        match found {
            Found::Differs(_) if self.sides[0].raced.get() => Found::Race("original"),
            Found::Refines(_) if self.sides[1].raced.get() => Found::Race("replacement"),
            found => found,
        }
    }

    fn sure(&self, replays: bool) -> Option<bool> {
        // more outcomes of the original may explain it; more of the replacement may show it
        let raced = &self.sides[usize::from(!replays)].raced;
        if raced.get() { None } else { Some(replays) }
    }
}

/// Whether any expression that something hangs on reads a net.
fn reads_net(circuit: &Circuit, net: usize) -> bool {
    use gluewright::circuit::{Expr, Kind};
    let mut wanted: Vec<Expr> = Vec::new();
    for e in circuit.elements() {
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        wanted.extend([clock, data, e.clear, e.preset]);
    }
    for n in circuit.nets() {
        wanted.extend(n.drivers.iter().flat_map(|d| [d.enable, d.level]));
    }
    let mut seen = HashSet::new();
    while let Some(e) = wanted.pop() {
        if !seen.insert(e) {
            continue;
        }
        match circuit.op(e) {
            Op::Net(n) if n == id(circuit, net) => return true,
            Op::Not(a) => wanted.push(a),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => wanted.extend([a, b]),
            Op::Choose(a, b, c) => wanted.extend([a, b, c]),
            Op::Net(_) | Op::Constant(_) | Op::Q(_) | Op::QInverted(_) => {}
        }
    }
    false
}

fn id(circuit: &Circuit, net: usize) -> NetId {
    circuit.find_net(&circuit.nets()[net].name).expect("names of nets are unique")
}
