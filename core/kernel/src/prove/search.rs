//! The search for the shortest run of the replacement that no start of the original explains.
use std::sync::Arc;

use crate::machine::{Freedom, Point, Symbolic, Unknown};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::candidates::{Partner, wishes};
use super::matching::Relation;
use super::pair::{ORIGINAL, Pair, REPLACEMENT, Seen};
use super::progress::{Step, Watcher};
use super::run::{Explained, Run};
use super::start::{self, Begin};

/// Starts of the original that are run beside each other, at most.
const COPIES: usize = 512;

/// What the bounded search found.
pub(super) enum Searched {
    Found(Run),
    /// Nothing up to this many events.
    NothingTo(usize),
    /// The solver gave up at this many events.
    GaveUp(usize, String),
}

/// One start of the original, run along with the symbolic replacement.
struct Copy {
    point: Point<Term>,
    /// True where it has differed so far.
    differs: Term,
    /// True where it has loaded what its data sheet leaves open: from there on it may have been another run.
    open: Term,
    /// True where it has not come to rest within the rounds before it differed: what it shows there says nothing.
    restless: Term,
}

/// The replacement unrolled over symbolic events, with the starts of the original that have been tried.
pub(super) struct Search<'p> {
    pair: &'p Arc<Pair>,
    effort: Effort,
    terms: Terms,
    solver: Solver,
    levels: Vec<Vec<Term>>,
    cells: Vec<Term>,
    constraints: Vec<Term>,
    point: Point<Term>,
    changes: Vec<Vec<(usize, Term)>>,
    seen: Vec<Vec<Seen<Term>>>,
    copies: Vec<Copy>,
    /// What copies of the original start from, as terms over the replacement's start.
    origins: Vec<Vec<Term>>,
    /// Likely partners of the original's cells: a start is tried as what the replacement's cells make it, which stands
    /// for many starts at once.
    partners: &'p [Partner],
    /// Look only for runs in which the original loads nothing that its data sheet leaves open.
    only_known: bool,
    /// Whether some copy may not have come to rest where nothing was found.
    is_restless: bool,
}

impl<'p> Search<'p> {
    pub(super) fn new(pair: &'p Arc<Pair>, partners: &'p [Partner], effort: Effort) -> Self {
        let mut terms = Terms::new();
        let levels: Vec<Term> =
            pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
        let fixed = pair.starts(REPLACEMENT, Some, |_| None);
        let cells: Vec<Term> = fixed
            .into_iter()
            .map(|f: Option<bool>| match f {
                Some(v) => Term::constant(v),
                None => terms.variable(),
            })
            .collect();
        let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
        let allowed = pair.allowed(&mut algebra, &levels);
        let woken = pair.awaken(&mut algebra, REPLACEMENT, &levels, &cells);
        let seen =
            (0..pair.contacts.len()).map(|c| pair.seen(REPLACEMENT, c, &woken.point, &[], Term::FALSE)).collect();
        Search {
            pair,
            effort,
            terms,
            solver: Solver::new(effort),
            levels: vec![levels],
            cells,
            constraints: vec![allowed, !woken.unsettled],
            point: woken.point,
            changes: Vec::new(),
            seen: vec![seen],
            copies: Vec::new(),
            origins: Vec::new(),
            partners,
            only_known: false,
            is_restless: false,
        }
    }

    /// Copies of the original that start in the states that a relation gives it.
    pub(super) fn follow(&mut self, relation: &Relation, begins: &[Vec<Begin>]) {
        for begin in begins {
            let spare = start::spare(begin, &self.cells);
            let start = start::original(&mut self.terms, self.pair, relation, &spare, &self.cells);
            self.add(start);
        }
    }

    fn add(&mut self, start: Vec<Term>) {
        let pair = self.pair;
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Usual);
        let woken = pair.awaken(&mut algebra, ORIGINAL, &self.levels[0], &start);
        let mut copy = Copy { point: woken.point, differs: Term::FALSE, open: Term::FALSE, restless: woken.unsettled };
        for c in 0..pair.contacts.len() {
            let seen = pair.seen(ORIGINAL, c, &copy.point, &[], Term::FALSE);
            let alike = pair.alike(&mut self.terms, c, &seen, &self.seen[0][c]);
            copy.differs = self.terms.or(copy.differs, !alike);
        }
        for k in 0..self.changes.len() {
            // a copy that is not run to the end says nothing, and there is no time to ask it
            if pair.limit.over().is_some() {
                return;
            }
            self.advance(&mut copy, k);
        }
        self.copies.push(copy);
        self.origins.push(start);
    }

    fn advance(&mut self, copy: &mut Copy, k: usize) {
        let pair = self.pair;
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Usual);
        let stepped = pair.step(&mut algebra, ORIGINAL, &copy.point, &self.changes[k], pair.limits);
        let met = std::mem::take(&mut algebra.met);
        for (_, when, _) in met.into_iter().filter(|(site, ..)| matches!(site, Unknown::Load(_) | Unknown::Order(_))) {
            copy.open = self.terms.or(copy.open, when);
        }
        let restless = self.terms.and(!copy.differs, stepped.unsettled);
        copy.restless = self.terms.or(copy.restless, restless);
        for c in 0..pair.contacts.len() {
            let seen = pair.seen(ORIGINAL, c, &copy.point, &stepped.views, Term::FALSE);
            let alike = pair.alike(&mut self.terms, c, &seen, &self.seen[k + 1][c]);
            copy.differs = self.terms.or(copy.differs, !alike);
        }
        copy.point = stepped.point;
    }

    /// One event more: any one of the kinds, chosen by fresh variables.
    fn extend(&mut self) {
        let pair = self.pair;
        let last = self.levels.last().cloned().unwrap_or_default();
        let mut next = last.clone();
        let (mut any, mut two) = (Term::FALSE, Term::FALSE);
        for event in &pair.events {
            let chosen = self.terms.variable();
            let again = self.terms.and(any, chosen);
            two = self.terms.or(two, again);
            any = self.terms.or(any, chosen);
            for &c in &event.contacts {
                let level = if event.contacts.len() == 1 { !last[c] } else { self.terms.variable() };
                next[c] = self.terms.choose(chosen, level, last[c]);
            }
        }
        self.constraints.extend([any, !two]);
        let change: Vec<_> = next.iter().enumerate().filter(|&(c, &t)| t != last[c]).map(|(c, &t)| (c, t)).collect();
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Free);
        let allowed = pair.may(&mut algebra, &last, &next, &pair.card(REPLACEMENT, &self.point));
        let stepped = pair.step(&mut algebra, REPLACEMENT, &self.point, &change, pair.limits);
        self.constraints.extend([allowed, !stepped.unsettled]);
        let seen = (0..pair.contacts.len())
            .map(|c| pair.seen(REPLACEMENT, c, &self.point, &stepped.views, Term::FALSE))
            .collect();
        self.point = stepped.point;
        self.levels.push(next);
        self.changes.push(change);
        self.seen.push(seen);
        let mut copies = std::mem::take(&mut self.copies);
        for copy in &mut copies {
            self.advance(copy, self.changes.len() - 1);
        }
        self.copies = copies;
    }

    /// Whether a run of this many events tells the copies apart, in one query: a power-up that does, and anything shorter,
    /// is one of them.
    pub(super) fn at_once(&mut self, events: usize) -> Searched {
        for _ in 0..events {
            self.extend();
        }
        if self.copies.is_empty() {
            return Searched::GaveUp(events, "there is no start of the original to compare with".to_owned());
        }
        let mut wanted = self.constraints.clone();
        wanted.extend(self.copies.iter().map(|c| c.differs));
        match self.solver.satisfy(&self.terms, &wanted) {
            Answer::No => Searched::NothingTo(events),
            Answer::Unknown(why) => Searched::GaveUp(events, why),
            Answer::Yes(values) => Searched::Found(self.concrete(&values)),
        }
    }

    /// Whether what was found is the shortest: not if shorter runs were left out because the original loads in them what
    /// its data sheet leaves open, or may not have come to rest.
    pub(super) fn is_shortest(&self) -> bool {
        !self.only_known && !self.is_restless
    }

    /// The shortest run that no start explains, with at most this many events.
    pub(super) fn run(&mut self, deepest: usize, watcher: &Watcher) -> Searched {
        if self.copies.is_empty() {
            let low = vec![Term::FALSE; self.pair.machines[ORIGINAL].cells().len()];
            self.add(low);
        }
        for depth in 0..=deepest {
            watcher.tell(&Step::Searching { events: depth, deepest });
            if let Some(over) = self.pair.limit.over() {
                return Searched::GaveUp(depth, over.to_string());
            }
            if depth > 0 {
                self.extend();
            }
            loop {
                if self.copies.len() > COPIES {
                    return Searched::GaveUp(depth, format!("more than {COPIES} starts of the original were tried"));
                }
                let mut wanted = self.constraints.clone();
                wanted.extend(self.copies.iter().map(|c| c.differs));
                if self.only_known {
                    wanted.extend(self.copies.iter().map(|c| !c.open));
                }
                let values = match self.solver.satisfy(&self.terms, &wanted) {
                    Answer::No => break,
                    Answer::Unknown(why) => return Searched::GaveUp(depth, why),
                    Answer::Yes(values) => values,
                };
                let run = self.concrete(&values);
                match run.explain_near(&wishes(self.partners, &run.cells), self.effort) {
                    Explained::Not => {
                        // as a device begins that clears itself, if a run of this length does
                        let cleared = self.cells.iter().map(|&cell| !cell).filter(|&cell| cell != Term::FALSE);
                        wanted.extend(cleared);
                        let cleared = match self.solver.satisfy(&self.terms, &wanted) {
                            Answer::Yes(values) => Some(self.concrete(&values)),
                            Answer::No | Answer::Unknown(_) => None,
                        };
                        let cleared = cleared.filter(|run| matches!(run.explain(self.effort), Explained::Not));
                        return Searched::Found(cleared.unwrap_or(run));
                    }
                    Explained::Unknown(why) => return Searched::GaveUp(depth, why),
                    Explained::From(start) => {
                        let at = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
                        let same = |origin: &[Term]| origin.iter().zip(&start).all(|(&t, &bit)| at.value(t) == bit);
                        if self.origins.iter().any(|origin| same(origin)) {
                            if !self.only_known {
                                self.only_known = true;
                                continue;
                            }
                            return Searched::GaveUp(depth, "the original explains it only by its unknowns".to_owned());
                        }
                        let start = self.following(&start, &run.cells);
                        self.add(start);
                    }
                }
            }
            self.is_restless |= self.may_be_restless();
        }
        if self.only_known {
            let why = "runs in which the original does what its data sheet leaves open were not searched";
            return Searched::GaveUp(deepest, why.to_owned());
        }
        Searched::NothingTo(deepest)
    }

    /// A start of the original as the replacement's start makes it: for each cell what its likely partner holds, where
    /// it is that in this run, else what it is.
    fn following(&self, start: &[bool], replacement: &[bool]) -> Vec<Term> {
        let mut terms: Vec<Term> = start.iter().map(|&bit| Term::constant(bit)).collect();
        // the first partner of a cell is the likeliest
        for &(o, r, opposite) in self.partners.iter().rev() {
            let (Some(&bit), Some(&held), Some(&cell)) = (start.get(o), replacement.get(r), self.cells.get(r)) else {
                continue;
            };
            let is_free = self.pair.machines[ORIGINAL].cells().get(o).is_some_and(|c| c.start.is_none());
            if is_free && bit == (held ^ opposite) {
                terms[o] = cell.inverted_if(opposite);
            }
        }
        terms
    }

    /// Whether some copy may not come to rest in a run of this many events, as far as the solver can tell.
    fn may_be_restless(&mut self) -> bool {
        let any = self.copies.iter().fold(Term::FALSE, |any, copy| self.terms.or(any, copy.restless));
        let mut wanted = self.constraints.clone();
        wanted.push(any);
        any != Term::FALSE && !matches!(self.solver.satisfy(&self.terms, &wanted), Answer::No)
    }

    fn concrete(&self, values: &[bool]) -> Run {
        let assignment = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        let bit = |t: Term| assignment.value(t);
        let levels: Vec<Vec<bool>> = self.levels.iter().map(|l| l.iter().map(|&t| bit(t)).collect()).collect();
        let events = levels
            .windows(2)
            .map(|w| (0..w[0].len()).filter(|&c| w[0][c] != w[1][c]).map(|c| (c, w[1][c])).collect())
            .collect();
        let shown = self
            .seen
            .iter()
            .map(|contacts| {
                contacts
                    .iter()
                    .map(|seen| {
                        let mut bits: Seen<bool> = seen.iter().map(|&(d, l)| (bit(d), bit(d) && bit(l))).collect();
                        bits.dedup();
                        bits
                    })
                    .collect()
            })
            .collect();
        Run {
            pair: Arc::clone(self.pair),
            levels: levels.first().cloned().unwrap_or_default(),
            cells: self.cells.iter().map(|&t| bit(t)).collect(),
            events,
            shown,
        }
    }
}
