//! What a refutation rests on: the circuits, the starts, and which levels of its run could be anything.
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::circuit::{Circuit, Label};
use crate::machine::{Freedom, Limits, Machine, Symbolic};
use crate::simulate::Shown;
use crate::solver::{Answer, Solver};
use crate::terms::{Term, Terms};

use super::draw::Draw;
use super::pair::{ORIGINAL, Pair, REPLACEMENT, Seen};
use super::run::{Explained, Run, constants};
use super::{Question, Refutation};

/// What a refutation rests on: everything that is needed to run both sides again.
#[derive(Clone, Debug)]
pub struct Evidence {
    /// The original and the replacement.
    pub circuits: [Arc<Circuit>; 2],
    /// What the cells of each hold at power-up: of the original, a start that explains all but the last event.
    pub starts: [Vec<bool>; 2],
    /// What was asked.
    pub question: Arc<Question>,
}

/// The levels and bits of a refutation that could be anything.
#[derive(Clone, Debug, Default)]
pub struct Free {
    /// Contacts whose level at power-up, and ever after, could be the other.
    pub contacts: Vec<Label>,
    /// Cells of the replacement, by position, that could hold the other at power-up.
    pub cells: Vec<usize>,
}

/// What the board does in a run: the levels at power-up, then the events.
pub type Moves = (Vec<(Label, bool)>, Vec<Vec<(Label, bool)>>);

/// Events of a drawn run in which every contact moves.
const MOVED_FIRST: usize = 16;

impl Question {
    /// A drawn run of at most `events` events that keeps the assumptions; the same for the same seed. With
    /// `keeps_still`, some drawn contacts stop changing after the first events: where one of them is a clear, the run
    /// gets further.
    pub fn drawn(&self, seed: u64, events: usize, keeps_still: bool) -> Option<Moves> {
        let machines = [&self.original, &self.replacement].map(Machine::new);
        let [original, replacement] = machines;
        let pair = Pair::new(original, replacement, self.assumptions.clone(), self.restrictions.clone(), &self.groups);
        let mut draw = Draw::new(seed);
        let levels = draw.levels(&pair)?;
        let mut now: Vec<u64> = levels.iter().map(|&w| if w & 1 == 1 { u64::MAX } else { 0 }).collect();
        let named = |c: usize, w: u64| pair.contacts.get(c).map(|j| (j.label.clone(), w & 1 == 1));
        let first = now.iter().enumerate().filter_map(|(c, &w)| named(c, w)).collect();
        let clocks: BTreeSet<usize> =
            pair.events.iter().filter(|e| e.is_clock).flat_map(|e| e.contacts.iter().copied()).collect();
        // (Groce, Zhang, Eide, Chen and Regehr, Swarm testing, 2012)
        let still: BTreeSet<usize> =
            (0..now.len()).filter(|c| keeps_still && draw.below(3) == 0 && !clocks.contains(c)).collect();
        let mut all = Vec::new();
        let draws = if keeps_still { 2 * events } else { events };
        for k in 0..draws {
            let change = draw.event(&pair, &now, &[], true);
            if all.len() == events {
                break;
            }
            if k > MOVED_FIRST && change.iter().any(|(c, _)| still.contains(c)) {
                continue;
            }
            for &(c, w) in &change {
                now[c] = w;
            }
            if !change.is_empty() {
                all.push(change.into_iter().filter_map(|(c, w)| named(c, w)).collect());
            }
        }
        Some((first, all))
    }

    /// Whether nothing explains a run of a pair of circuits, under the assumptions of this question; `held` says what a
    /// cell of the replacement holds at power-up, by position and name.
    pub fn unexplained(
        &self,
        [original, replacement]: [&Circuit; 2],
        (levels, events): &Moves,
        held: impl Fn(usize, &str) -> bool,
    ) -> bool {
        let pair = Arc::new(Pair::new(
            Machine::new(original),
            Machine::new(replacement),
            self.assumptions.clone(),
            self.restrictions.clone(),
            &self.groups,
        ));
        let at = |label: &Label| pair.contacts.iter().position(|c| c.label == *label);
        let mut first = vec![false; pair.contacts.len()];
        for (label, high) in levels {
            if let Some(c) = at(label) {
                first[c] = *high;
            }
        }
        let name = |i: usize| pair.machines[REPLACEMENT].cells().get(i).map_or("", |c| c.name.as_str());
        let cells = pair.starts(REPLACEMENT, |v| v, |i| held(i, name(i)));
        let events = events.iter().map(|e| e.iter().filter_map(|(l, high)| Some((at(l)?, *high))).collect()).collect();
        Run::record(&pair, first, cells, events).is_some_and(|r| matches!(r.explain(self.effort), Explained::Not))
    }
}

impl Refutation {
    /// What it rests on.
    pub fn evidence(&self) -> &Evidence {
        &self.evidence
    }

    /// What the original may hold at power-up: a start that explains all but the last event, for every element whose start is
    /// not known. From it the original shows in the last event what the differences say of it.
    pub fn original_start(&self) -> Vec<(String, bool)> {
        let cells = self.run.pair.machines[ORIGINAL].cells();
        let held = cells.iter().zip(&self.evidence.starts[ORIGINAL]);
        held.filter(|(cell, _)| cell.start.is_none()).map(|(cell, &high)| (cell.name.clone(), high)).collect()
    }

    /// The original at the power-up of the run, from any start, with unknowns that may be anything.
    fn original_from_any_start(&self, terms: &mut Terms) -> Side {
        let (run, pair) = (&self.run, &*self.run.pair);
        let levels: Vec<Term> = run.levels.iter().map(|&high| Term::constant(high)).collect();
        let any = pair.starts(ORIGINAL, Term::constant, |_| terms.variable());
        Side::wake(terms, run, ORIGINAL, Freedom::Free, &levels, &any, pair.ample())
    }

    /// The contacts that convict beside those that differ: no run of the original shows the same as the replacement at all
    /// of them together. None of them can be left out. Mostly there are none.
    pub fn convicting(&self) -> Vec<Label> {
        let (run, pair) = (&self.run, &*self.run.pair);
        let mut terms = Terms::new();
        let mut side = self.original_from_any_start(&mut terms);
        let mut alike = vec![Term::TRUE; pair.contacts.len()];
        for (k, shown) in run.shown.iter().enumerate() {
            if let Some(event) = k.checked_sub(1).and_then(|e| run.events.get(e)) {
                side.step(&mut terms, run, event, pair.ample());
            }
            for (c, all) in alike.iter_mut().enumerate() {
                let shown = shown.get(c).map(Vec::as_slice).unwrap_or_default();
                let shown = constants(shown);
                let now = pair.alike(&mut terms, c, &side.seen[c], &shown);
                *all = terms.and(*all, now);
            }
        }
        let differs = |c: usize| self.differences.iter().any(|d| d.label == pair.contacts[c].label);
        let mut needed: Vec<usize> = (0..alike.len()).filter(|&c| !differs(c) && alike[c] != Term::TRUE).collect();
        let mut solver = Solver::new(self.evidence.question.effort());
        let mut convict = |with: &[usize]| {
            let mut wanted: Vec<Term> = (0..alike.len()).filter(|&c| differs(c)).map(|c| alike[c]).collect();
            wanted.extend(with.iter().map(|&c| alike[c]));
            wanted.push(!side.restless);
            wanted.retain(|&t| t != Term::TRUE);
            matches!(solver.satisfy(&terms, &wanted), Answer::No)
        };
        if convict(&[]) {
            return Vec::new();
        }
        for c in needed.clone() {
            let fewer: Vec<usize> = needed.iter().copied().filter(|&n| n != c).collect();
            if convict(&fewer) {
                needed = fewer;
            }
        }
        needed.into_iter().map(|c| pair.contacts[c].label.clone()).collect()
    }

    /// The levels and bits that don't matter: whatever they are, together, nothing explains what the contacts that differ
    /// and those that [convict](Refutation::convicting) show, and both sides show the same in the last event at the
    /// contacts that differ.
    pub fn free(&self) -> Free {
        self.free_beside(&self.convicting())
    }

    /// The same beside contacts that are known to convict.
    pub(crate) fn free_beside(&self, convicting: &[Label]) -> Free {
        let run = &self.run;
        let pair = &*run.pair;
        let moves = |c: usize| run.events.iter().flatten().any(|&(m, _)| m == c);
        let mut wanted: Vec<Result<usize, usize>> =
            (0..pair.contacts.len()).filter(|&c| pair.contacts[c].is_free && !moves(c)).map(Ok).collect();
        wanted.extend(
            pair.machines[REPLACEMENT]
                .cells()
                .iter()
                .enumerate()
                .filter(|(_, c)| c.start.is_none())
                .map(|(i, _)| Err(i)),
        );
        let mut free = Vec::new();
        if self.stays_refuted(&wanted, convicting) {
            free = wanted;
        } else if self.stays_refuted(&[], convicting) {
            for one in wanted {
                free.push(one);
                if !self.stays_refuted(&free, convicting) {
                    free.pop();
                }
            }
        }
        Free {
            contacts: free.iter().filter_map(|f| f.ok()).map(|c| pair.contacts[c].label.clone()).collect(),
            cells: free.iter().filter_map(|f| f.err()).collect(),
        }
    }

    /// Whether the run stays one that nothing explains at the contacts that differ and those that convict, with the same
    /// differences, whatever these contacts (`Ok`) and cells (`Err`) hold.
    fn stays_refuted(&self, free: &[Result<usize, usize>], convicting: &[Label]) -> bool {
        let (run, pair) = (&self.run, &*self.run.pair);
        let limits = Limits { phases: 24, iterations: 24 };
        let mut terms = Terms::new();
        let levels: Vec<Term> = (0..pair.contacts.len())
            .map(|c| if free.contains(&Ok(c)) { terms.variable() } else { Term::constant(run.levels[c]) })
            .collect();
        let held: Vec<Term> = (0..run.cells.len())
            .map(|i| if free.contains(&Err(i)) { terms.variable() } else { Term::constant(run.cells[i]) })
            .collect();
        let any = pair.starts(ORIGINAL, Term::constant, |_| terms.variable());
        let one: Vec<Term> = self.evidence.starts[ORIGINAL].iter().map(|&b| Term::constant(b)).collect();
        let mut sides = [
            Side::wake(&mut terms, run, REPLACEMENT, Freedom::Usual, &levels, &held, limits),
            Side::wake(&mut terms, run, ORIGINAL, Freedom::Free, &levels, &any, limits),
            Side::wake(&mut terms, run, ORIGINAL, Freedom::Usual, &levels, &one, limits),
        ];
        let mut levels = levels;
        let mut allowed = pair.allowed(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels);
        let mut explained = Term::TRUE;
        for k in 0..=run.events.len() {
            if let Some(event) = k.checked_sub(1).and_then(|e| run.events.get(e)) {
                let before = levels.clone();
                for &(c, level) in event {
                    levels[c] = Term::constant(level);
                }
                let card = pair.card(REPLACEMENT, &sides[0].point);
                let holds = pair.may(&mut Symbolic::new(&mut terms, Freedom::Usual), &before, &levels, &card);
                allowed = terms.and(allowed, holds);
                for side in &mut sides {
                    side.step(&mut terms, run, event, limits);
                }
            }
            for (c, contact) in pair.contacts.iter().enumerate() {
                let drawn =
                    |label: &Label| self.differences.iter().any(|d| d.label == *label) || convicting.contains(label);
                if !drawn(&contact.label) {
                    continue;
                }
                let alike = pair.alike(&mut terms, c, &sides[1].seen[c], &sides[0].seen[c]);
                explained = terms.and(explained, alike);
            }
        }
        explained = terms.and(explained, !sides[1].restless);
        let mut changed = sides[0].restless;
        for d in &self.differences {
            let Some(c) = pair.contacts.iter().position(|c| c.label == d.label) else { continue };
            let shown = run.shown.last().and_then(|s| s.get(c)).map(Vec::as_slice).unwrap_or_default();
            let wanted = constants(shown);
            let same = pair.alike(&mut terms, c, &sides[0].seen[c], &wanted);
            changed = terms.or(changed, !same);
            // of the original: constant, whatever is free
            let fixed = sides[2].seen[c].iter().all(|&(d, l)| {
                d.as_constant() == Some(false) || (d.as_constant().is_some() && l.as_constant().is_some())
            });
            if !fixed {
                return false;
            }
        }
        let broken = terms.or(explained, changed);
        matches!(Solver::new(self.evidence.question.effort()).satisfy(&terms, &[allowed, broken]), Answer::No)
    }
}

impl Refutation {
    /// What the original may show at each contact that differs once the last event has settled, from whatever start
    /// explains all before it. A contact about which the solver gave up has nothing.
    pub fn may_show(&self) -> Vec<(Label, Vec<Shown>)> {
        let (run, pair) = (&self.run, &*self.run.pair);
        let mut terms = Terms::new();
        let mut side = self.original_from_any_start(&mut terms);
        let mut explained = Term::TRUE;
        for (k, event) in run.events.iter().enumerate() {
            for (c, seen) in side.seen.iter().enumerate() {
                let shown = run.shown.get(k).and_then(|s| s.get(c)).map(Vec::as_slice).unwrap_or_default();
                let shown = constants(shown);
                let alike = pair.alike(&mut terms, c, seen, &shown);
                explained = terms.and(explained, alike);
            }
            side.step(&mut terms, run, event, pair.ample());
        }
        explained = terms.and(explained, !side.restless);
        let mut solver = Solver::new(self.evidence.question.effort());
        let mut all = Vec::new();
        for d in &self.differences {
            let Some(c) = pair.contacts.iter().position(|c| c.label == d.label) else { continue };
            let Some(&(drive, level)) = side.seen.get(c).and_then(|s| s.last()) else { continue };
            let pull = pair.contacts[c].ports[ORIGINAL].map_or_else(Default::default, |p| {
                pair.machines[ORIGINAL].ports().get(p).map_or_else(Default::default, |p| p.pull)
            });
            let mut may = Vec::new();
            for (driven, high) in [(true, false), (true, true), (false, false)] {
                let mut wanted = vec![explained, drive.inverted_if(!driven)];
                if driven {
                    wanted.push(level.inverted_if(!high));
                }
                match solver.satisfy(&terms, &wanted) {
                    Answer::Yes(_) => may.push(Shown::new(driven, high, pull)),
                    Answer::No => {}
                    Answer::Unknown(_) => {
                        may.clear();
                        break;
                    }
                }
            }
            all.push((d.label.clone(), may));
        }
        all
    }
}

/// One side, simulated over the run.
struct Side {
    side: usize,
    freedom: Freedom,
    point: crate::machine::Point<Term>,
    restless: Term,
    /// What each contact showed over the last event.
    seen: Vec<Seen<Term>>,
}

impl Side {
    fn wake(
        terms: &mut Terms,
        run: &Run,
        side: usize,
        freedom: Freedom,
        levels: &[Term],
        cells: &[Term],
        limits: Limits,
    ) -> Side {
        let pair = &*run.pair;
        let mut algebra = Symbolic::new(terms, freedom);
        let outside = pair.outside(side, levels, Term::FALSE);
        let woken = pair.machines[side].power_up(&mut algebra, &outside, cells, limits);
        let seen = (0..pair.contacts.len()).map(|c| pair.seen(side, c, &woken.point, &[], Term::FALSE)).collect();
        Side { side, freedom, point: woken.point, restless: woken.unsettled, seen }
    }

    fn step(&mut self, terms: &mut Terms, run: &Run, event: &[(usize, bool)], limits: Limits) {
        let pair = &*run.pair;
        let change: Vec<_> = event.iter().map(|&(c, b)| (c, Term::constant(b))).collect();
        let stepped = pair.step(&mut Symbolic::new(terms, self.freedom), self.side, &self.point, &change, limits);
        self.seen = (0..pair.contacts.len())
            .map(|c| pair.seen(self.side, c, &self.point, &stepped.views, Term::FALSE))
            .collect();
        self.point = stepped.point;
        self.restless = terms.or(self.restless, stepped.unsettled);
    }
}
