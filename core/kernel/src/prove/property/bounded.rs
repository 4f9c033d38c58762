//! Runs of a bounded length from power-up, and induction over several steps. (Bounded model checking: Biere, Cimatti, Clarke
//! and Zhu 1999. Induction over k steps: Sheeran, Singh and Stålmarck 2000.)
use crate::machine::Unknown;
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::unroll::{Begun, Moved, Run, Subject};

/// What was found at one length.
pub(super) enum Bounded {
    /// No run of this length comes to it.
    None,
    /// This one does; with what it met that nobody knows, and how it turned out there.
    Found(Found),
    /// A run of this length does not come to rest within the rounds.
    Restless(Run),
    /// The solver gave up.
    GaveUp(String),
}

/// A run that comes to what is looked for.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub(super) run: Run,
    /// What it met that nobody knows, by event.
    pub(super) met: Vec<(usize, Unknown)>,
    /// What the card shows at each point, by port: driven, level.
    pub(super) shown: Vec<Vec<(bool, bool)>>,
}

/// The card unrolled from power-up, one event at a time.
pub(super) struct Unrolled<'a> {
    of: &'a Subject<'a>,
    terms: Terms,
    solver: Solver,
    begun: Begun,
    moves: Vec<Moved>,
}

impl<'a> Unrolled<'a> {
    pub(super) fn new(of: &'a Subject<'a>, effort: Effort) -> Self {
        let mut terms = Terms::new();
        let begun = of.power_up(&mut terms);
        Unrolled { of, terms, solver: Solver::new(effort), begun, moves: Vec::new() }
    }

    pub(super) fn questions(&self) -> (usize, usize) {
        (self.solver.questions, self.solver.tables)
    }

    fn constraints(&self, moves: usize) -> Vec<Term> {
        let mut all = self.begun.constraints.clone();
        all.push(!self.begun.restless);
        all.extend(self.moves.iter().take(moves).flat_map(|m| [m.may, !m.restless]));
        all
    }

    /// Runs of exactly this many events; ask about shorter ones first.
    pub(super) fn at(&mut self, events: usize) -> Bounded {
        while self.moves.len() < events {
            let from = self.moves.last_mut().map_or(&mut self.begun.place, |m| &mut m.place);
            let moved = self.of.step(&mut self.terms, from);
            self.moves.push(moved);
        }
        let (found, restless, may) = match events.checked_sub(1).and_then(|i| self.moves.get(i)) {
            None => (self.begun.found, self.begun.restless, Term::TRUE),
            Some(last) => (last.found, last.restless, last.may),
        };
        let mut before = if events == 0 { self.begun.constraints.clone() } else { self.constraints(events - 1) };
        before.push(may);
        if restless != Term::FALSE {
            let mut wanted = before.clone();
            wanted.push(restless);
            match self.solver.satisfy(&self.terms, &wanted) {
                Answer::No => {}
                Answer::Unknown(why) => return Bounded::GaveUp(why),
                Answer::Yes(values) => return Bounded::Restless(self.concrete(&values, events).run),
            }
        }
        let mut wanted = before;
        wanted.extend([!restless, found]);
        let values = match self.solver.satisfy(&self.terms, &wanted) {
            Answer::No => return Bounded::None,
            Answer::Unknown(why) => return Bounded::GaveUp(why),
            Answer::Yes(values) => values,
        };
        // a run without unknowns is preferred
        wanted.extend(self.moves.iter().take(events).flat_map(|m| m.met.iter().map(|&(_, when)| !when)));
        match self.solver.satisfy(&self.terms, &wanted) {
            Answer::Yes(better) => Bounded::Found(self.concrete(&better, events)),
            _ => Bounded::Found(self.concrete(&values, events)),
        }
    }

    fn concrete(&self, values: &[bool], events: usize) -> Found {
        let assignment = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        let bits = |all: &[Term]| -> Vec<bool> { all.iter().map(|&t| assignment.value(t)).collect() };
        let places = || std::iter::once(&self.begun.place).chain(self.moves.iter().take(events).map(|m| &m.place));
        let levels: Vec<Vec<bool>> = places().map(|p| bits(&p.levels)).collect();
        let changes = levels.windows(2).map(|w| match w {
            [a, b] => (0..a.len()).filter(|&c| a[c] != b[c]).map(|c| (c, b[c])).collect(),
            _ => Vec::new(),
        });
        let machine = &self.of.pair.machines[self.of.side];
        let show = |p: &super::unroll::Place| {
            let ports = 0..machine.ports().len();
            ports
                .map(|port| {
                    let (drive, level) = machine.shown(&p.point, port);
                    (assignment.value(drive), assignment.value(level))
                })
                .collect()
        };
        let mut met = Vec::new();
        for (k, moved) in self.moves.iter().take(events).enumerate() {
            let here = moved.met.iter().filter(|&&(_, when)| assignment.value(when));
            met.extend(here.map(|&(site, _)| (k + 1, site)));
        }
        met.dedup();
        let run = Run {
            levels: levels.first().cloned().unwrap_or_default(),
            cells: bits(&self.begun.cells),
            events: changes.collect(),
        };
        Found { run, met, shown: places().map(show).collect() }
    }
}

/// The card unrolled from any point at rest: if it did not come in these steps, can it come in the next one?
pub(super) struct Stepped<'a> {
    of: &'a Subject<'a>,
    terms: Terms,
    solver: Solver,
    begun: Begun,
    moves: Vec<Moved>,
}

impl<'a> Stepped<'a> {
    pub(super) fn new(of: &'a Subject<'a>, effort: Effort) -> Self {
        let mut terms = Terms::new();
        let begun = of.anywhere(&mut terms);
        Stepped { of, terms, solver: Solver::new(effort), begun, moves: Vec::new() }
    }

    pub(super) fn questions(&self) -> (usize, usize) {
        (self.solver.questions, self.solver.tables)
    }

    /// Whether induction over this many steps closes; nothing if the solver gave up.
    pub(super) fn closes(&mut self, steps: usize) -> Option<bool> {
        while self.moves.len() < steps {
            let from = self.moves.last_mut().map_or(&mut self.begun.place, |m| &mut m.place);
            let moved = self.of.step(&mut self.terms, from);
            self.moves.push(moved);
        }
        let (last, before) = self.moves.get(..steps).and_then(<[Moved]>::split_last)?;
        let mut wanted = self.begun.constraints.clone();
        wanted.extend(before.iter().flat_map(|m| [m.may, !m.restless, !m.found]));
        let wrong = self.terms.or(last.found, last.restless);
        wanted.extend([last.may, wrong]);
        match self.solver.satisfy(&self.terms, &wanted) {
            Answer::No => Some(true),
            Answer::Yes(_) => Some(false),
            Answer::Unknown(_) => None,
        }
    }
}
