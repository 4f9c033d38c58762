//! Which steps are worth doing at the bench: those that show the most at the contacts, found by trying.
use std::cmp::Reverse;
use std::collections::{BTreeSet, HashMap, HashSet};

use super::bench::Bench;
use super::{Expect, Row};
use crate::circuit::{Direction, Label, Polarity};
use crate::machine::ternary::Ternary;
use crate::prove::{Assumption, Restriction};

/// How many ways are followed at once, at most so many of them with the same bits held.
const WIDTH: usize = 16;
const ALIKE: usize = 4;
/// With at most so many things to change all pairs of them are tried.
const PAIRS: usize = 12;
/// So many larger changes are drawn for each way.
const DRAWN: usize = 40;
/// With more things to change than this the rest is left alone.
const MOVES: usize = 80;
/// Words of data with at most so many bits take all values.
const BITS: usize = 4;

/// Something that a person does at the bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Action {
    /// These rows get these levels: one after the other, or at one moment.
    Put { rows: Vec<(usize, bool)>, together: bool },
    /// This row goes to the other level and back.
    Pulse { row: usize, first: bool },
}

impl Action {
    /// What happens, event by event.
    pub(super) fn events(&self) -> Vec<Vec<(usize, Ternary)>> {
        match self {
            Action::Put { rows, together: true } => {
                vec![rows.iter().map(|&(row, high)| (row, Ternary::of(high))).collect()]
            }
            Action::Put { rows, together: false } => {
                rows.iter().map(|&(row, high)| vec![(row, Ternary::of(high))]).collect()
            }
            Action::Pulse { row, first } => {
                vec![vec![(*row, Ternary::of(*first))], vec![(*row, Ternary::of(!first))]]
            }
        }
    }

    /// Whether both put levels on the same word of data.
    fn meets(&self, other: &Action, rows: &[Row]) -> bool {
        let (Action::Put { rows: a, .. }, Action::Put { rows: b, .. }) = (self, other) else { return false };
        a.iter().any(|&(x, _)| {
            b.iter().any(|&(y, _)| x == y || (base(rows, x).is_some() && base(rows, x) == base(rows, y)))
        })
    }

    /// In words.
    pub(super) fn words(&self, rows: &[Row]) -> String {
        let name = |row: usize| rows.get(row).map_or_else(String::new, |r| format!("{} {}", r.label, r.name));
        let level = |high: bool| if high { "high" } else { "low" };
        match self {
            Action::Put { rows: put, together: false } if put.len() > BITS => {
                let levels: Vec<&str> = put.iter().map(|&(_, high)| level(high)).collect();
                let ends = [put.first(), put.last()].map(|end| end.map_or_else(String::new, |&(row, _)| name(row)));
                format!("{} to {}: {}", ends[0], ends[1], levels.join(" "))
            }
            Action::Put { rows, together } => {
                let each: Vec<String> =
                    rows.iter().map(|&(row, high)| format!("{} {}", name(row), level(high))).collect();
                let how = if *together && rows.len() > 1 { " at one moment" } else { "" };
                format!("{}{how}", each.join(", "))
            }
            Action::Pulse { row, first } => {
                format!("one pulse on {}, {} and back", name(*row), level(*first))
            }
        }
    }
}

/// The name of the word that a contact belongs to.
fn base(rows: &[Row], row: usize) -> Option<&str> {
    rows.get(row).and_then(|r| r.name.split_once('[')).map(|(base, _)| base)
}

/// A contact that brings registers to a known level.
#[derive(Clone, Debug)]
pub(super) struct Reset {
    pub(super) row: usize,
    pub(super) assert: Vec<Action>,
    pub(super) release: Vec<Action>,
    registers: usize,
}

/// What can be done at the contacts.
pub(super) struct Search<'a> {
    /// The contacts.
    pub(super) rows: &'a [Row],
    /// The original's port of each.
    pub(super) ports: &'a [usize],
    /// What the board does at no time.
    pub(super) assumptions: &'a [&'a Assumption],
    /// What the board does in no event.
    pub(super) restrictions: &'a [Restriction],
    /// Contacts that change together.
    pub(super) groups: &'a [Vec<Label>],
}

/// A sequence of steps, and what has been seen on the way.
#[derive(Clone)]
struct Path<'m> {
    bench: Bench<'m>,
    steps: Vec<Vec<Action>>,
    /// What every output shows now, and what was seen of it.
    now: Vec<Expect>,
    states: HashSet<(usize, Expect)>,
    changes: HashSet<(usize, Expect, Expect)>,
    /// Neighbours in a word that were driven to different levels: else nobody would see that they are exchanged.
    apart: HashSet<usize>,
    /// What registers and latches held.
    held: BTreeSet<(usize, Ternary)>,
    /// How many steps there were when something new was seen last.
    useful: usize,
    effort: usize,
}

impl Path<'_> {
    fn seen(&self) -> (usize, usize) {
        (self.states.len() + self.apart.len(), self.changes.len())
    }

    fn worth(&self) -> (usize, usize, usize, Reverse<usize>) {
        let (states, changes) = self.seen();
        (states, changes, self.held.len(), Reverse(self.effort))
    }
}

impl<'a> Search<'a> {
    /// Contacts whose assertion alone, or with one clock pulse, gives registers a known level; the best one first.
    pub(super) fn resets(&self, rest: &Bench<'_>) -> Vec<Reset> {
        let known = Self::known;
        let pulses = self.pulses(rest);
        // what a pulse tells without any assertion is no reset's merit
        let idle: Vec<usize> = pulses
            .iter()
            .map(|pulse| {
                let mut bench = rest.clone();
                self.try_all(std::slice::from_ref(pulse), &mut bench);
                known(&bench)
            })
            .collect();
        let before = known(rest);
        let mut found: Vec<Reset> = Vec::new();
        for (row, r) in self.rows.iter().enumerate() {
            if r.direction != Direction::Input || self.clocks(rest, row) || self.group(row).is_some() {
                continue;
            }
            let Some(now) = rest.applied(self.port(row)) else { continue };
            let put = |high: bool| Action::Put { rows: vec![(row, high)], together: false };
            let mut tries = vec![(vec![put(!now)], before)];
            tries.extend(pulses.iter().zip(&idle).map(|(pulse, &alone)| (vec![put(!now), pulse.clone()], alone)));
            for (assert, without) in tries {
                let mut bench = rest.clone();
                if !self.try_all(&assert, &mut bench) {
                    continue;
                }
                let registers = known(&bench).saturating_sub(without);
                if registers > 0 {
                    found.push(Reset { row, assert, release: vec![put(now)], registers });
                    break;
                }
            }
        }
        found.sort_by_key(|r| (Reverse(r.registers), r.assert.len()));
        // a contact that loads one register of many is no reset
        let most = found.first().map_or(0, |r| r.registers);
        found.retain(|r| r.registers == most);
        if found.iter().any(|r| r.assert.len() == 1) {
            found.retain(|r| r.assert.len() == 1);
        }
        found
    }

    /// A pulse that alone gives registers a known level.
    pub(super) fn settling_pulse(&self, rest: &Bench<'_>) -> Option<Action> {
        let before = Self::known(rest);
        self.pulses(rest).into_iter().find(|pulse| {
            let mut bench = rest.clone();
            self.try_all(std::slice::from_ref(pulse), &mut bench) && Self::known(&bench) > before
        })
    }

    /// How many registers have a known level.
    fn known(bench: &Bench<'_>) -> usize {
        let cells = bench.machine().cells().iter().zip(bench.held());
        cells.filter(|(c, held)| c.is_register && held.known().is_some()).count()
    }

    /// At most this many steps, of those that show the most, each without anything that shows nothing.
    pub(super) fn steps(&self, from: &Bench<'_>, most: usize) -> Vec<Vec<Action>> {
        let start = self.start(from);
        let mut best = start.clone();
        let mut ways = vec![start];
        let mut draw = Draw(0x9E37_79B9_7F4A_7C15);
        for _ in 0..most {
            let mut next: Vec<Path<'_>> = Vec::new();
            for way in &ways {
                let candidates = self.candidates(&way.bench, &mut draw);
                next.extend(candidates.into_iter().filter_map(|actions| self.follow(way, actions)));
            }
            next.sort_by_key(|path| Reverse(path.worth()));
            let mut stands: HashSet<(Vec<Ternary>, Vec<Ternary>)> = HashSet::new();
            let mut alike: HashMap<Vec<Ternary>, usize> = HashMap::new();
            next.retain(|path| {
                let held = path.bench.held();
                let among = alike.entry(held.clone()).or_default();
                *among += 1;
                *among <= ALIKE && stands.len() < WIDTH && stands.insert((path.bench.outside(), held))
            });
            if let Some(first) = next.first()
                && first.seen() > best.seen()
            {
                best = first.clone();
            }
            ways = next;
        }
        let mut steps = best.steps;
        steps.truncate(best.useful);
        self.pare(from, steps)
    }

    fn start<'m>(&self, from: &Bench<'m>) -> Path<'m> {
        let mut start = Path {
            bench: from.clone(),
            steps: Vec::new(),
            now: Vec::new(),
            states: HashSet::new(),
            changes: HashSet::new(),
            apart: HashSet::new(),
            held: BTreeSet::new(),
            useful: 0,
            effort: 0,
        };
        self.look(&mut start);
        start
    }

    /// A step more, if it can be done.
    fn follow<'m>(&self, way: &Path<'m>, actions: Vec<Action>) -> Option<Path<'m>> {
        let mut path = way.clone();
        if !self.try_all(&actions, &mut path.bench) {
            return None;
        }
        path.effort += actions.iter().map(|a| a.events().len()).sum::<usize>();
        path.steps.push(actions);
        self.look(&mut path);
        Some(path)
    }

    /// Leaves out what can be left out without showing less.
    fn pare(&self, from: &Bench<'_>, mut steps: Vec<Vec<Action>>) -> Vec<Vec<Action>> {
        let shown = |steps: &[Vec<Action>]| {
            let followed = steps.iter().try_fold(self.start(from), |path, step| self.follow(&path, step.clone()));
            followed.map(|path| path.seen())
        };
        let Some(whole) = shown(&steps) else { return steps };
        for step in 0..steps.len() {
            let mut action = 0;
            while steps.get(step).is_some_and(|s| s.len() > 1 && action < s.len()) {
                let mut fewer = steps.clone();
                if let Some(s) = fewer.get_mut(step) {
                    s.remove(action);
                }
                if shown(&fewer).is_some_and(|seen| seen >= whole) {
                    steps = fewer;
                } else {
                    action += 1;
                }
            }
        }
        steps
    }

    /// Notes what is to be seen.
    fn look(&self, path: &mut Path<'_>) {
        let before = path.seen();
        let outputs = |row: &usize| self.rows.get(*row).is_some_and(|r| r.direction != Direction::Input);
        let rows: Vec<usize> = (0..self.rows.len()).filter(outputs).collect();
        let now: Vec<Expect> = rows.iter().map(|&row| path.bench.shows(self.port(row))).collect();
        for (i, (&row, &shown)) in rows.iter().zip(&now).enumerate().filter(|(_, (_, shown))| shown.is_known()) {
            path.states.insert((row, shown));
            if let Some(&was) = path.now.get(i)
                && was.is_known()
                && was != shown
            {
                path.changes.insert((row, was, shown));
            }
        }
        let driven = |e: Expect| matches!(e, Expect::High | Expect::Low);
        for (pair, levels) in rows.windows(2).zip(now.windows(2)) {
            if let (&[first, second], &[a, b]) = (pair, levels)
                && driven(a)
                && driven(b)
                && a != b
                && base(self.rows, first).is_some()
                && base(self.rows, first) == base(self.rows, second)
            {
                path.apart.insert(first);
            }
        }
        path.now = now;
        path.held.extend(path.bench.held().into_iter().enumerate().filter(|(_, held)| held.known().is_some()));
        if path.seen() > before {
            path.useful = path.steps.len();
        }
    }

    fn port(&self, row: usize) -> usize {
        self.ports.get(row).copied().unwrap_or(usize::MAX)
    }

    fn clocks(&self, bench: &Bench<'_>, row: usize) -> bool {
        self.rows.get(row).is_some_and(|r| r.polarity == Polarity::Clock)
            && bench.machine().clocking_ports().contains(&self.port(row))
    }

    fn group(&self, row: usize) -> Option<&'a [Label]> {
        let label = &self.rows.get(row)?.label;
        self.groups.iter().map(Vec::as_slice).find(|g| g.contains(label))
    }

    fn pulses(&self, bench: &Bench<'_>) -> Vec<Action> {
        let clocks = (0..self.rows.len()).filter(|&row| self.clocks(bench, row) && self.group(row).is_none());
        clocks.filter_map(|row| Some(Action::Pulse { row, first: !bench.applied(self.port(row))? })).collect()
    }

    /// What can change besides clocks: single contacts, whole groups, and words of data in two patterns.
    fn moves(&self, bench: &Bench<'_>) -> Vec<Action> {
        let mut moves = Vec::new();
        let mut words: Vec<(String, Vec<usize>)> = Vec::new();
        for (row, r) in self.rows.iter().enumerate() {
            let free = match r.direction {
                Direction::Input => true,
                // never put a level on what the card may drive
                Direction::InOut => matches!(bench.shows(self.port(row)), Expect::Floating(_)),
                Direction::Output => false,
            };
            if !free || self.clocks(bench, row) {
                continue;
            }
            if let Some(group) = self.group(row) {
                let members: Vec<usize> = (0..self.rows.len())
                    .filter(|&i| self.rows.get(i).is_some_and(|r| group.contains(&r.label)))
                    .collect();
                if members.first() == Some(&row) {
                    let flip = |&i: &usize| Some((i, !bench.applied(self.port(i))?));
                    let rows: Vec<(usize, bool)> = members.iter().filter_map(flip).collect();
                    moves.push(Action::Put { rows, together: true });
                }
                continue;
            }
            match r.name.split_once('[') {
                Some((base, _)) if r.polarity == Polarity::Data => match words.iter_mut().find(|(b, _)| b == base) {
                    Some((_, members)) => members.push(row),
                    None => words.push((base.to_owned(), vec![row])),
                },
                _ => {
                    let now = bench.applied(self.port(row)).unwrap_or(false);
                    moves.push(Action::Put { rows: vec![(row, !now)], together: false });
                }
            }
        }
        for (_, members) in words {
            let values = u32::try_from(members.len()).ok().filter(|_| members.len() <= BITS).map(|n| 1_u64 << n);
            // a longer word takes every other bit, all bits, none
            let patterns: Vec<u64> = match values {
                Some(n) => (0..n).collect(),
                None => vec![0x5555_5555_5555_5555, 0xAAAA_AAAA_AAAA_AAAA, u64::MAX, 0],
            };
            for pattern in patterns {
                let bits = members.iter().enumerate().map(|(i, &row)| (row, pattern >> (i % 64) & 1 == 1));
                // of a short word what stays is not said again; a long one is told whole, as it is read
                let told =
                    |&(row, high): &(usize, bool)| members.len() > BITS || bench.applied(self.port(row)) != Some(high);
                let rows: Vec<(usize, bool)> = bits.filter(told).collect();
                if !rows.is_empty() {
                    moves.push(Action::Put { rows, together: false });
                }
            }
        }
        moves.truncate(MOVES);
        moves
    }

    fn candidates(&self, bench: &Bench<'_>, draw: &mut Draw) -> Vec<Vec<Action>> {
        let (moves, pulses) = (self.moves(bench), self.pulses(bench));
        let mut puts: Vec<Vec<Action>> = vec![Vec::new()];
        puts.extend(moves.iter().map(|m| vec![m.clone()]));
        if moves.len() <= PAIRS {
            for (i, first) in moves.iter().enumerate() {
                let others = moves.iter().skip(i + 1).filter(|second| !first.meets(second, self.rows));
                puts.extend(others.map(|second| vec![first.clone(), second.clone()]));
            }
        }
        puts.extend((0..DRAWN).filter_map(|_| self.drawn(&moves, draw)));
        let mut all = Vec::new();
        for put in puts {
            for pulse in &pulses {
                all.push(put.iter().cloned().chain([pulse.clone()]).collect());
            }
            if !put.is_empty() {
                all.push(put);
            }
        }
        all
    }

    /// Up to five moves that don't meet, in the order of the contacts.
    fn drawn(&self, moves: &[Action], draw: &mut Draw) -> Option<Vec<Action>> {
        let wanted = 2 + draw.below(4);
        let mut chosen: BTreeSet<usize> = BTreeSet::new();
        for _ in 0..wanted {
            let index = draw.below(moves.len().max(1));
            let candidate = moves.get(index)?;
            let free = chosen.iter().filter_map(|&i| moves.get(i)).all(|m| !m.meets(candidate, self.rows));
            if free {
                chosen.insert(index);
            }
        }
        (chosen.len() > 1).then(|| chosen.iter().filter_map(|&i| moves.get(i).cloned()).collect())
    }

    /// Does it all, as long as nothing unknown happens, no assumption breaks, nothing fights, and nobody puts a level on
    /// what the card drives.
    fn try_all(&self, actions: &[Action], bench: &mut Bench<'_>) -> bool {
        let fights = bench.fights();
        for event in actions.iter().flat_map(Action::events) {
            let two_way = |row: usize| self.rows.get(row).is_some_and(|r| r.direction == Direction::InOut);
            let taken = |row: usize| two_way(row) && !matches!(bench.shows(self.port(row)), Expect::Floating(_));
            if event.iter().any(|&(row, _)| taken(row)) {
                return false;
            }
            let change: Vec<(usize, Ternary)> = event.iter().map(|&(row, level)| (self.port(row), level)).collect();
            let before = (!self.restrictions.is_empty()).then(|| bench.clone());
            if !bench.event(&change) || bench.fights() > fights {
                return false;
            }
            if let Some(before) = before
                && self.restrictions.iter().any(|r| bench.keeps_restriction(r, &before) != Ternary::High)
            {
                return false;
            }
            if self.assumptions.iter().any(|a| bench.keeps(a) != Ternary::High) {
                return false;
            }
        }
        true
    }
}

/// Draws that are the same each time (a linear congruence; constants of Knuth's MMIX, from memory).
struct Draw(u64);

impl Draw {
    /// A number below this one, which is not zero.
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap_or(0) % limit.max(1)
    }
}
