//! Which steps are worth doing at the bench: those that show the most at the contacts, found by trying.
use std::cmp::Reverse;
use std::collections::{BTreeSet, HashMap, HashSet};

use super::Expect;
use super::action::{Action, base};
use super::bench::Bench;
use super::moves::{Contacts, Draw};
use gluewright_kernel::circuit::Direction;
use gluewright_kernel::machine::ternary::Ternary;

/// How many ways are followed at once, at most so many of them with the same bits held.
const WIDTH: usize = 16;
const ALIKE: usize = 4;

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

impl Contacts<'_> {
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
}
