//! Which steps are worth doing at the bench: those that show the most at the contacts, found by trying.
use std::collections::{BTreeSet, HashSet};

use super::bench::Bench;
use super::ternary::Ternary;
use super::{Expect, Row};
use crate::circuit::{Direction, Label, Polarity};
use crate::prove::Assumption;

/// How many ways are followed at once.
const WIDTH: usize = 12;
/// With more things to change than this only one of them changes in a step.
const PAIRS: usize = 14;
/// With more things to change than this the rest is left alone.
const MOVES: usize = 60;

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
        let base = |row: usize| rows.get(row).and_then(|r| r.name.split_once('[')).map(|(base, _)| base);
        let (Action::Put { rows: a, .. }, Action::Put { rows: b, .. }) = (self, other) else { return false };
        a.iter().any(|&(x, _)| b.iter().any(|&(y, _)| x == y || (base(x).is_some() && base(x) == base(y))))
    }

    /// In words.
    pub(super) fn words(&self, rows: &[Row]) -> String {
        let name = |row: usize| rows.get(row).map_or_else(String::new, |r| format!("{} {}", r.label, r.name));
        let level = |high: bool| if high { "high" } else { "low" };
        match self {
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
    rows: &'a [Row],
    ports: &'a [usize],
    assumptions: &'a [&'a Assumption],
    groups: &'a [Vec<Label>],
}

/// A sequence of steps, and what has been seen on the way.
#[derive(Clone)]
struct Path<'m> {
    bench: Bench<'m>,
    steps: Vec<Vec<Action>>,
    /// What was seen at contacts, and what registers held.
    seen: HashSet<(usize, Expect)>,
    held: BTreeSet<(usize, Ternary)>,
    /// How much had been seen after the last step that showed something new.
    useful: usize,
    effort: usize,
}

impl Path<'_> {
    fn worth(&self) -> (usize, usize, std::cmp::Reverse<usize>) {
        (self.seen.len(), self.held.len(), std::cmp::Reverse(self.effort))
    }
}

impl<'a> Search<'a> {
    pub(super) fn new(
        rows: &'a [Row],
        ports: &'a [usize],
        assumptions: &'a [&'a Assumption],
        groups: &'a [Vec<Label>],
    ) -> Self {
        Search { rows, ports, assumptions, groups }
    }

    /// Contacts whose assertion alone, or with one clock pulse, gives registers a known level; the best one first.
    pub(super) fn resets(&self, rest: &Bench<'_>) -> Vec<Reset> {
        let known = |bench: &Bench<'_>| {
            let cells = bench.machine().cells().iter().zip(bench.held());
            cells.filter(|(c, held)| c.is_register && held.known().is_some()).count()
        };
        let before = known(rest);
        let mut found: Vec<Reset> = Vec::new();
        for (row, r) in self.rows.iter().enumerate() {
            if r.direction != Direction::Input || self.clocks(rest, row) || self.group(row).is_some() {
                continue;
            }
            let Some(now) = rest.applied(self.port(row)) else { continue };
            let put = |high: bool| Action::Put { rows: vec![(row, high)], together: false };
            let mut tries = vec![vec![put(!now)]];
            tries.extend(self.pulses(rest).into_iter().map(|pulse| vec![put(!now), pulse]));
            for assert in tries {
                let mut bench = rest.clone();
                if !self.try_all(&assert, &mut bench) {
                    continue;
                }
                let registers = known(&bench).saturating_sub(before);
                if registers > 0 {
                    found.push(Reset { row, assert, release: vec![put(now)], registers });
                    break;
                }
            }
        }
        found.sort_by_key(|r| (std::cmp::Reverse(r.registers), r.assert.len()));
        // a contact that loads one register of many is no reset
        let most = found.first().map_or(0, |r| r.registers);
        found.retain(|r| r.registers == most);
        if found.iter().any(|r| r.assert.len() == 1) {
            found.retain(|r| r.assert.len() == 1);
        }
        found
    }

    /// At most this many steps, of those that show the most.
    pub(super) fn steps(&self, from: &Bench<'_>, most: usize) -> Vec<Vec<Action>> {
        let mut start = Path {
            bench: from.clone(),
            steps: Vec::new(),
            seen: HashSet::new(),
            held: BTreeSet::new(),
            useful: 0,
            effort: 0,
        };
        self.look(&mut start);
        let mut best = start.clone();
        let mut ways = vec![start];
        for _ in 0..most {
            let mut next: Vec<Path<'_>> = Vec::new();
            for way in &ways {
                for actions in self.candidates(&way.bench) {
                    let mut path = way.clone();
                    if !self.try_all(&actions, &mut path.bench) {
                        continue;
                    }
                    path.effort += actions.iter().map(|a| a.events().len()).sum::<usize>();
                    path.steps.push(actions);
                    self.look(&mut path);
                    next.push(path);
                }
            }
            next.sort_by_key(|path| std::cmp::Reverse(path.worth()));
            let mut stands: BTreeSet<(Vec<Ternary>, Vec<Ternary>)> = BTreeSet::new();
            next.retain(|p| stands.len() < WIDTH && stands.insert((p.bench.outside(), p.bench.held())));
            if let Some(first) = next.first()
                && first.seen.len() > best.seen.len()
            {
                best = first.clone();
            }
            ways = next;
        }
        best.steps.truncate(best.useful);
        best.steps
    }

    /// Notes what is to be seen.
    fn look(&self, path: &mut Path<'_>) {
        let before = path.seen.len();
        for (row, &port) in self.ports.iter().enumerate() {
            let shown = path.bench.shows(port);
            if self.rows.get(row).is_some_and(|r| r.direction != Direction::Input) && shown.is_known() {
                path.seen.insert((row, shown));
            }
        }
        path.held.extend(path.bench.held().into_iter().enumerate().filter(|(_, held)| held.known().is_some()));
        if path.seen.len() > before {
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
            for odd in [false, true] {
                let pattern = members.iter().enumerate().map(|(i, &row)| (row, (i % 2 == 1) == odd));
                let rows: Vec<(usize, bool)> =
                    pattern.filter(|&(row, high)| bench.applied(self.port(row)) != Some(high)).collect();
                if !rows.is_empty() {
                    moves.push(Action::Put { rows, together: false });
                }
            }
        }
        moves.truncate(MOVES);
        moves
    }

    fn candidates(&self, bench: &Bench<'_>) -> Vec<Vec<Action>> {
        let (moves, pulses) = (self.moves(bench), self.pulses(bench));
        let mut puts: Vec<Vec<Action>> = vec![Vec::new()];
        puts.extend(moves.iter().map(|m| vec![m.clone()]));
        if moves.len() <= PAIRS {
            for (i, first) in moves.iter().enumerate() {
                let others = moves.iter().skip(i + 1).filter(|second| !first.meets(second, self.rows));
                puts.extend(others.map(|second| vec![first.clone(), second.clone()]));
            }
        }
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
            if !bench.event(&change) || bench.fights() > fights {
                return false;
            }
            if self.assumptions.iter().any(|a| bench.keeps(a) != Ternary::High) {
                return false;
            }
        }
        true
    }
}
