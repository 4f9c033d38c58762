//! Runs of the replacement that the original must explain, and the search for the shortest one that it can't.
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::machine::{Freedom, Lanes, Limits, Point, Symbolic, Unknown};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::pair::{ORIGINAL, Pair, REPLACEMENT, Seen};
use super::progress::{Step, Watcher};

/// A concrete run of the replacement: what the board did and what the contacts showed.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub(super) pair: Arc<Pair>,
    /// Levels at power-up, one a contact.
    pub(super) levels: Vec<bool>,
    /// What the replacement's cells hold at power-up.
    pub(super) cells: Vec<bool>,
    pub(super) events: Vec<Vec<(usize, bool)>>,
    /// What each contact of the replacement showed: at power-up, then over each event (every contact).
    pub(super) shown: Vec<Vec<Seen<bool>>>,
}

/// Whether the original could have done it.
pub(super) enum Explained {
    /// From this start.
    From(Vec<bool>),
    /// From none.
    Not,
    /// The solver does not know.
    Unknown(String),
}

/// Rounds that nearly always suffice.
const FEW: Limits = Limits { phases: 24, iterations: 24 };

/// The original over a concrete run from a symbolic start.
struct Story {
    terms: Terms,
    /// What its cells hold at power-up.
    cells: Vec<Term>,
    /// What must hold before the last event, and for everything to come to rest.
    wanted: Vec<Term>,
    /// For each contact, what must hold in the last event.
    last: Vec<Term>,
    /// Where it does not come to rest within the rounds although it has shown the same before.
    restless: Term,
}

fn start(terms: &Terms, cells: &[Term], values: &[bool]) -> Vec<bool> {
    let assignment = Assignment::new(terms, |v| values.get(v as usize).copied().unwrap_or(false));
    cells.iter().map(|&t| assignment.value(t)).collect()
}

fn constants(seen: &[(bool, bool)]) -> Vec<(Term, Term)> {
    seen.iter().map(|&(d, l)| (Term::constant(d), Term::constant(l))).collect()
}

impl Run {
    /// Runs the replacement with its unknowns as usual, up to the first event from which it does not come to rest: what it
    /// shows there is no level. `None` if power-up is such an event.
    pub(super) fn record(
        pair: &Arc<Pair>,
        levels: Vec<bool>,
        cells: Vec<bool>,
        mut events: Vec<Vec<(usize, bool)>>,
    ) -> Option<Self> {
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let bits = |seen: Seen<u64>| {
            let mut bits: Seen<bool> = seen.into_iter().map(|(d, l)| (d & 1 == 1, d & l & 1 == 1)).collect();
            bits.dedup();
            bits
        };
        let all: Vec<u64> = levels.iter().map(word).collect();
        let woken = pair.awake(REPLACEMENT, &all, &cells.iter().map(word).collect::<Vec<_>>());
        if woken.unsettled & 1 == 1 {
            return None;
        }
        let mut point = woken.point;
        let mut shown: Vec<Vec<Seen<bool>>> =
            vec![(0..pair.contacts.len()).map(|c| bits(pair.seen(REPLACEMENT, c, &point, &[], 0))).collect()];
        for event in &events {
            let change: Vec<_> = event.iter().map(|(c, b)| (*c, word(b))).collect();
            let stepped = pair.step(&mut Lanes::default(), REPLACEMENT, &point, &change, pair.ample());
            if stepped.unsettled & 1 == 1 {
                break;
            }
            shown.push(
                (0..pair.contacts.len()).map(|c| bits(pair.seen(REPLACEMENT, c, &point, &stepped.views, 0))).collect(),
            );
            point = stepped.point;
        }
        events.truncate(shown.len() - 1);
        Some(Run { pair: Arc::clone(pair), levels, cells, events, shown })
    }

    /// Is there a start of the original, with a resolution of its unknowns, that shows the same?
    pub(super) fn explain(&self, effort: Effort) -> Explained {
        // a start that has not come to rest within the rounds may still do so: then they are too few
        for limits in [FEW, self.pair.ample()] {
            let Story { terms, cells, mut wanted, last, restless } = self.story(limits);
            wanted.extend(last);
            wanted.retain(|&t| t != Term::TRUE);
            let mut solver = Solver::new(effort);
            match solver.satisfy(&terms, &wanted) {
                Answer::Unknown(why) => return Explained::Unknown(why),
                Answer::Yes(values) => return Explained::From(start(&terms, &cells, &values)),
                Answer::No => {}
            }
            match solver.satisfy(&terms, &[restless]) {
                Answer::No => return Explained::Not,
                Answer::Unknown(why) => return Explained::Unknown(why),
                Answer::Yes(_) => {}
            }
        }
        Explained::Unknown(
            "the original does not come to rest after this run from every start that explains what came before"
                .to_owned(),
        )
    }

    /// A start of the original that explains all but the last event, and of that as many contacts as go together, in
    /// their order.
    pub(super) fn explain_most(&self, effort: Effort) -> Option<Vec<bool>> {
        let Story { terms, cells, mut wanted, last, .. } = self.story(self.pair.ample());
        let mut solver = Solver::new(effort);
        let Answer::Yes(mut best) = solver.satisfy(&terms, &wanted) else { return None };
        for contact in last {
            wanted.push(contact);
            match solver.satisfy(&terms, &wanted) {
                Answer::Yes(values) => best = values,
                _ => {
                    wanted.pop();
                }
            }
        }
        Some(start(&terms, &cells, &best))
    }

    /// A start of the original that explains the run, and in which as many of these bits as go together, in their order,
    /// are as wished.
    pub(super) fn explain_with(&self, wishes: &[(usize, bool)], effort: Effort) -> Option<Vec<bool>> {
        let Story { terms, cells, mut wanted, last, .. } = self.story(FEW);
        wanted.extend(last);
        wanted.retain(|&t| t != Term::TRUE);
        let mut solver = Solver::new(effort);
        let Answer::Yes(mut best) = solver.satisfy(&terms, &wanted) else { return None };
        let mut bits = start(&terms, &cells, &best);
        // the first wish for each cell, all together: mostly they can be had at once
        let mut asked = vec![false; cells.len()];
        let mut all = wanted.clone();
        for &(cell, value) in wishes {
            if let Some(&term) = cells.get(cell).filter(|_| !std::mem::replace(&mut asked[cell], true)) {
                all.push(term.inverted_if(!value));
            }
        }
        if let Answer::Yes(values) = solver.satisfy(&terms, &all) {
            return Some(start(&terms, &cells, &values));
        }
        for &(cell, value) in wishes {
            let Some(&term) = cells.get(cell) else { continue };
            wanted.push(term.inverted_if(!value));
            if bits.get(cell) == Some(&value) {
                continue;
            }
            match solver.satisfy(&terms, &wanted) {
                Answer::Yes(values) => {
                    best = values;
                    bits = start(&terms, &cells, &best);
                }
                _ => {
                    wanted.pop();
                }
            }
        }
        Some(bits)
    }

    /// The original over this run from a symbolic start.
    fn story(&self, limits: Limits) -> Story {
        let pair = &*self.pair;
        let mut terms = Terms::new();
        let cells: Vec<Term> = pair.starts(ORIGINAL, Term::constant, |_| Term::TRUE);
        let cells: Vec<Term> = pair.machines[ORIGINAL]
            .cells()
            .iter()
            .zip(cells)
            .map(|(c, fixed)| if c.start.is_some() { fixed } else { terms.variable() })
            .collect();
        let levels: Vec<Term> = self.levels.iter().map(|&b| Term::constant(b)).collect();
        let (mut wanted, mut last) = (Vec::new(), Vec::new());
        let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
        let outside = pair.outside(ORIGINAL, &levels, Term::FALSE);
        let asleep = pair.machines[ORIGINAL].point(&mut algebra, &outside, &cells);
        let woken = pair.machines[ORIGINAL].rest(&mut algebra, &asleep, limits);
        wanted.push(!woken.unsettled);
        let (mut so_far, mut restless) = (!woken.unsettled, woken.unsettled);
        let mut point = woken.point;
        let mut contact_of = vec![None; pair.machines[ORIGINAL].ports().len()];
        for (c, contact) in pair.contacts.iter().enumerate() {
            if let Some(slot) = contact.ports[ORIGINAL].and_then(|p| contact_of.get_mut(p)) {
                *slot = Some(c);
            }
        }
        for (k, shown) in self.shown.iter().enumerate() {
            let before = point.clone();
            let mut views = Vec::new();
            if k > 0 {
                let change: Vec<_> = self.events[k - 1].iter().map(|&(c, b)| (c, Term::constant(b))).collect();
                let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
                let stepped = pair.step(&mut algebra, ORIGINAL, &point, &change, limits);
                if stepped.unsettled != Term::FALSE {
                    wanted.push(!stepped.unsettled);
                }
                let stuck = terms.and(so_far, stepped.unsettled);
                restless = terms.or(restless, stuck);
                so_far = terms.and(so_far, !stepped.unsettled);
                point = stepped.point;
                views = stepped.views;
            }
            let moved: BTreeSet<usize> = views
                .iter()
                .flat_map(|v| &v.changed)
                .filter_map(|&(p, ..)| contact_of.get(p).copied().flatten())
                .collect();
            for (c, seen) in shown.iter().enumerate() {
                // what neither side moved is alike as it was before
                let stood = k > 0 && self.shown[k - 1].get(c).and_then(|s| s.last()) == seen.last() && seen.len() == 1;
                let alike = if stood && !moved.contains(&c) {
                    Term::TRUE
                } else {
                    let original = pair.seen(ORIGINAL, c, &before, &views, Term::FALSE);
                    pair.alike(&mut terms, c, &original, &constants(seen))
                };
                if k + 1 == self.shown.len() {
                    last.push(alike);
                } else if alike != Term::TRUE {
                    wanted.push(alike);
                    so_far = terms.and(so_far, alike);
                }
            }
            if so_far == Term::FALSE || wanted.last() == Some(&Term::FALSE) {
                wanted.push(Term::FALSE);
                break;
            }
        }
        Story { terms, cells, wanted, last, restless }
    }

    /// The shortest prefix of this run that nothing explains, if the whole isn't explained.
    pub(super) fn shorten(&self, effort: Effort) -> Run {
        let (mut low, mut high) = (0, self.events.len());
        while low < high {
            let middle = (low + high) / 2;
            let mut part = self.clone();
            part.events.truncate(middle);
            part.shown.truncate(middle + 1);
            match part.explain(effort) {
                Explained::Not => high = middle,
                _ => low = middle + 1,
            }
        }
        let mut part = self.clone();
        part.events.truncate(high);
        part.shown.truncate(high + 1);
        part
    }
}

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
    /// Look only for runs in which the original loads nothing that its data sheet leaves open.
    only_known: bool,
}

impl<'p> Search<'p> {
    pub(super) fn new(pair: &'p Arc<Pair>, effort: Effort) -> Self {
        let mut terms = Terms::new();
        let levels: Vec<Term> =
            pair.contacts.iter().map(|c| if c.is_read { terms.variable() } else { Term::FALSE }).collect();
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
            only_known: false,
        }
    }

    /// A copy of the original that starts in the state that a matching gives it: cell by cell the replacement's bit,
    /// inverted or not, or a constant.
    pub(super) fn follow(&mut self, of: &[Result<(usize, bool), bool>]) {
        let start = of
            .iter()
            .map(|m| match *m {
                Ok((cell, inverted)) => self.cells.get(cell).copied().unwrap_or(Term::FALSE).inverted_if(inverted),
                Err(value) => Term::constant(value),
            })
            .collect();
        self.add(start);
    }

    fn add(&mut self, start: Vec<Term>) {
        let pair = self.pair;
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Usual);
        let woken = pair.awaken(&mut algebra, ORIGINAL, &self.levels[0], &start);
        let mut copy = Copy { point: woken.point, differs: Term::FALSE, open: Term::FALSE };
        for c in 0..pair.contacts.len() {
            let seen = pair.seen(ORIGINAL, c, &copy.point, &[], Term::FALSE);
            let alike = pair.alike(&mut self.terms, c, &seen, &self.seen[0][c]);
            copy.differs = self.terms.or(copy.differs, !alike);
        }
        for k in 0..self.changes.len() {
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
        for (_, when, _) in met.into_iter().filter(|(site, ..)| matches!(site, Unknown::Load(_))) {
            copy.open = self.terms.or(copy.open, when);
        }
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
        let allowed = pair.may(&mut algebra, &last, &next);
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

    /// Whether a run of so many events tells the copies apart, in one query: a power-up that does, and anything shorter,
    /// is one of them.
    pub(super) fn at_once(&mut self, events: usize) -> Searched {
        for _ in 0..events {
            self.extend();
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
    /// its data sheet leaves open.
    pub(super) fn is_shortest(&self) -> bool {
        !self.only_known
    }

    /// The shortest run that no start explains, with at most this many events.
    pub(super) fn run(&mut self, deepest: usize, watcher: &Watcher) -> Searched {
        if self.copies.is_empty() {
            let low = vec![Term::FALSE; self.pair.machines[ORIGINAL].cells().len()];
            self.add(low);
        }
        for depth in 0..=deepest {
            watcher.tell(&Step::Searching { events: depth, deepest });
            if depth > 0 {
                self.extend();
            }
            loop {
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
                match run.explain(self.effort) {
                    Explained::Not => return Searched::Found(run),
                    Explained::Unknown(why) => return Searched::GaveUp(depth, why),
                    Explained::From(start) => {
                        let start: Vec<Term> = start.into_iter().map(Term::constant).collect();
                        if self.origins.contains(&start) {
                            if !self.only_known {
                                self.only_known = true;
                                continue;
                            }
                            return Searched::GaveUp(depth, "the original explains it only by its unknowns".to_owned());
                        }
                        self.add(start);
                    }
                }
            }
        }
        if self.only_known {
            let why = "runs in which the original does what its data sheet leaves open were not searched";
            return Searched::GaveUp(deepest, why.to_owned());
        }
        Searched::NothingTo(deepest)
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

/// The original from all its starts at once, on a concrete run: the starts that show the same to the end of each event.
pub(super) fn survivors(run: &Run) -> Option<Vec<u64>> {
    let pair = &*run.pair;
    let cells = pair.machines[ORIGINAL].cells();
    let free: BTreeMap<usize, usize> =
        cells.iter().enumerate().filter(|(_, c)| c.start.is_none()).enumerate().map(|(k, (i, _))| (i, k)).collect();
    if free.len() > 20 {
        return None;
    }
    let word = |b: bool| if b { u64::MAX } else { 0 };
    let mut alive = vec![0; run.shown.len()];
    for block in 0..(1u64 << free.len()).div_ceil(64) {
        let count = (1u64 << free.len()).min(64);
        let mut left = if count == 64 { u64::MAX } else { (1 << count) - 1 };
        let start = pair.starts(ORIGINAL, word, |i| {
            let k = free.get(&i).copied().unwrap_or(0);
            (0..64u64).fold(0, |w, lane| w | ((((block * 64 + lane) >> k) & 1) << lane))
        });
        let levels: Vec<u64> = run.levels.iter().map(|&b| word(b)).collect();
        let woken = pair.awake(ORIGINAL, &levels, &start);
        left &= !woken.unsettled;
        let mut point = woken.point;
        for (k, shown) in run.shown.iter().enumerate() {
            let before = point.clone();
            let mut views = Vec::new();
            if k > 0 {
                let change: Vec<_> = run.events[k - 1].iter().map(|&(c, b)| (c, word(b))).collect();
                let mut lanes = Lanes::default();
                let stepped = pair.step(&mut lanes, ORIGINAL, &point, &change, pair.ample());
                if lanes.met.iter().any(|&(_, when)| when & left != 0) {
                    // what it does is not determined there, so a count would mean nothing
                    return None;
                }
                left &= !stepped.unsettled;
                point = stepped.point;
                views = stepped.views;
            }
            for (c, wanted) in shown.iter().enumerate() {
                let seen = pair.seen(ORIGINAL, c, &before, &views, 0);
                let pulls_differ = pair.pull_lost(c);
                let alive_before = left;
                for lane in (0..64).filter(|lane| (alive_before >> lane) & 1 == 1) {
                    let bit = |w: u64| (w >> lane) & 1 == 1;
                    let mut mine: Seen<bool> = seen.iter().map(|&(d, l)| (bit(d), bit(d) && bit(l))).collect();
                    mine.dedup();
                    if &mine != wanted || (pulls_differ && mine.iter().any(|s| !s.0)) {
                        left &= !(1 << lane);
                    }
                }
            }
            alive[k] += u64::from(left.count_ones());
        }
    }
    Some(alive)
}
