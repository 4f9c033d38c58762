//! One run of the replacement, and whether the original could have done the same.
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::limit::Over;
use crate::machine::{Freedom, Lanes, Limits, Symbolic, Unknown};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::pair::{ORIGINAL, Pair, REPLACEMENT, Seen};

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

/// Rounds of settling that nearly always suffice.
const FEW: Limits = Limits { phases: 24, iterations: 24 };

/// Events at the beginning of a long run that are asked about first.
const GLIMPSE: usize = 16;

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
    /// The unknowns that can occur, event by event, and where they do.
    met: Vec<Vec<(Unknown, Term)>>,
}

fn start(terms: &Terms, cells: &[Term], values: &[bool]) -> Vec<bool> {
    let assignment = Assignment::new(terms, |v| values.get(v as usize).copied().unwrap_or(false));
    cells.iter().map(|&t| assignment.value(t)).collect()
}

/// What each cell of the original may hold at power-up.
fn any_start(pair: &Pair, terms: &mut Terms) -> Vec<Term> {
    pair.starts(ORIGINAL, Term::constant, |_| terms.variable())
}

/// Adds to what is wanted as many of these bits as go together with it, in their order. `best` answers what is wanted
/// so far; an answer to all of it comes back.
fn granted(
    solver: &mut Solver,
    terms: &Terms,
    cells: &[Term],
    wanted: &mut Vec<Term>,
    wishes: &[(usize, bool)],
    mut best: Vec<bool>,
) -> Vec<bool> {
    if wishes.is_empty() {
        return best;
    }
    // the first wish for each cell, all together: mostly they can all be granted at once
    let mut asked = vec![false; cells.len()];
    let mut all = wanted.clone();
    for &(cell, value) in wishes {
        if let Some(&term) = cells.get(cell).filter(|_| !std::mem::replace(&mut asked[cell], true)) {
            all.push(term.inverted_if(!value));
        }
    }
    if let Answer::Yes(values) = solver.satisfy(terms, &all) {
        *wanted = all;
        return values;
    }
    let mut bits = start(terms, cells, &best);
    for &(cell, value) in wishes {
        let Some(&term) = cells.get(cell) else { continue };
        wanted.push(term.inverted_if(!value));
        if bits.get(cell) == Some(&value) {
            continue;
        }
        match solver.satisfy(terms, wanted) {
            Answer::Yes(values) => {
                best = values;
                bits = start(terms, cells, &best);
            }
            _ => {
                wanted.pop();
            }
        }
    }
    best
}

/// What was seen, as terms.
pub(super) fn constants(seen: &[(bool, bool)]) -> Vec<(Term, Term)> {
    seen.iter().map(|&(d, l)| (Term::constant(d), Term::constant(l))).collect()
}

impl Run {
    /// Runs the replacement with its unknowns as usual, up to the first event from which it does not come to rest: what it
    /// shows there is no level; or up to one that the board does not do at what the card shows. `None` if power-up is such an event.
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
        let mut now = all;
        for event in &events {
            // a run may end anywhere
            if pair.limit.over().is_some() {
                break;
            }
            let change: Vec<_> = event.iter().map(|(c, b)| (*c, word(b))).collect();
            let mut next = now.clone();
            change.iter().for_each(|&(c, word)| next[c] = word);
            // nor may the board do what the assumptions exclude, given what this card shows
            let does = pair.answers.is_empty()
                || pair.may(&mut Lanes::default(), &now, &next, &pair.card(REPLACEMENT, &point)) & 1 == 1;
            if !does {
                break;
            }
            now = next;
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

    /// Whether the original shows the same from this start, with its unknowns as usual.
    pub(super) fn is_explained_by(&self, start: &[bool]) -> bool {
        let cells: Vec<Term> = start.iter().map(|&level| Term::constant(level)).collect();
        let told = self.tell(&mut Terms::new(), &cells, self.pair.ample(), Freedom::Usual);
        told.is_ok_and(|(wanted, last, ..)| wanted.into_iter().chain(last).all(|t| t == Term::TRUE))
    }

    /// Is there a start of the original, with a resolution of its unknowns, that shows the same?
    pub(super) fn explain(&self, effort: Effort) -> Explained {
        self.explain_near(&[], effort)
    }

    /// The same, with a start in which as many of these bits as go together are as wished, if that is known.
    pub(super) fn explain_near(&self, wishes: &[(usize, bool)], effort: Effort) -> Explained {
        // mostly unknowns taken as usual will do, and then nothing but the start is open
        if let Some(start) = self.explain_with(wishes, effort) {
            return Explained::From(start);
        }
        // what nobody knows adds up over a long run: is its beginning enough?
        if self.events.len() > 2 * GLIMPSE && matches!(self.prefix(GLIMPSE).explain_freely(effort), Explained::Not) {
            return Explained::Not;
        }
        self.explain_freely(effort)
    }

    /// The same with unknowns that may be anything from the first.
    fn explain_freely(&self, effort: Effort) -> Explained {
        // a start that has not come to rest within the rounds may still do so: then they are too few
        for limits in [FEW, self.pair.ample()] {
            let Story { terms, cells, mut wanted, last, restless, .. } = match self.story(limits, Freedom::Free) {
                Ok(story) => story,
                Err(over) => return Explained::Unknown(over.to_string()),
            };
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

    /// A start of the original that explains all but the last event, in which as many of these bits as go together are as
    /// wished, and which explains of the last event as many contacts as go together, in their order: so what differs is
    /// what the replacement did, and not how else the original may have begun. With its unknowns as usual if that is possible, since so it is shown. If the solver does not find one,
    /// a start that explains as much of the run as it can tell, and at worst one that the power-up has.
    pub(super) fn explain_most(&self, wishes: &[(usize, bool)], effort: Effort) -> Vec<bool> {
        for (limits, freedom) in [(FEW, Freedom::Usual), (FEW, Freedom::Free), (self.pair.ample(), Freedom::Free)] {
            let Ok(Story { terms, cells, mut wanted, last, .. }) = self.story(limits, freedom) else { break };
            let mut solver = Solver::new(effort);
            let Answer::Yes(values) = solver.satisfy(&terms, &wanted) else { continue };
            let mut best = granted(&mut solver, &terms, &cells, &mut wanted, wishes, values);
            for contact in last {
                wanted.push(contact);
                match solver.satisfy(&terms, &wanted) {
                    Answer::Yes(values) => best = values,
                    _ => {
                        wanted.pop();
                    }
                }
            }
            return start(&terms, &cells, &best);
        }
        for events in (0..self.events.len()).rev() {
            if let Explained::From(start) = self.prefix(events).explain(effort) {
                return start;
            }
        }
        self.pair.starts(ORIGINAL, |v| v, |_| false)
    }

    /// This run cut down to its first events.
    fn prefix(&self, events: usize) -> Run {
        let mut part = self.clone();
        part.events.truncate(events);
        part.shown.truncate(events + 1);
        part
    }

    /// A start of the original that explains the run with unknowns as usual, and in which as many of these bits as go
    /// together, in their order, are as wished.
    pub(super) fn explain_with(&self, wishes: &[(usize, bool)], effort: Effort) -> Option<Vec<bool>> {
        Run::explain_together(&[self], wishes, effort)
    }

    /// The same of several runs from one start of the replacement: what they show together says more of what the original
    /// begins with.
    pub(super) fn explain_together(runs: &[&Run], wishes: &[(usize, bool)], effort: Effort) -> Option<Vec<bool>> {
        let mut terms = Terms::new();
        let cells = any_start(&runs.first()?.pair, &mut terms);
        let mut wanted = Vec::new();
        for run in runs {
            let (all, last, ..) = run.tell(&mut terms, &cells, FEW, Freedom::Usual).ok()?;
            wanted.extend(all.into_iter().chain(last).filter(|&t| t != Term::TRUE));
        }
        let mut solver = Solver::new(effort);
        let Answer::Yes(values) = solver.satisfy(&terms, &wanted) else { return None };
        let values = granted(&mut solver, &terms, &cells, &mut wanted, wishes, values);
        Some(start(&terms, &cells, &values))
    }

    /// Whether every start and resolution that explains this run meets these unknowns in more than `most` events. False
    /// if the solver does not know, or if nothing explains the run.
    pub(super) fn needs(&self, which: impl Fn(Unknown) -> bool, most: usize, effort: Effort) -> bool {
        let Ok(Story { mut terms, mut wanted, last, met, .. }) = self.story(FEW, Freedom::Free) else { return false };
        wanted.extend(last);
        wanted.retain(|&t| t != Term::TRUE);
        // more than none, one, two … events so far
        let mut more = vec![Term::FALSE; most + 1];
        for event in met {
            let any = terms.any(event.into_iter().filter(|(site, _)| which(*site)).map(|(_, when)| when));
            for k in (0..more.len()).rev() {
                let below = if k == 0 { Term::TRUE } else { more[k - 1] };
                let now = terms.and(below, any);
                more[k] = terms.or(more[k], now);
            }
        }
        let Some(&too_many) = more.last() else { return false };
        if too_many == Term::FALSE {
            return false;
        }
        let mut solver = Solver::new(effort);
        let mut seldom = wanted.clone();
        seldom.push(!too_many);
        matches!(solver.satisfy(&terms, &seldom), Answer::No)
            && matches!(solver.satisfy(&terms, &wanted), Answer::Yes(_))
    }

    /// The original over this run from a symbolic start, unless it must end before.
    fn story(&self, limits: Limits, freedom: Freedom) -> Result<Story, Over> {
        let mut terms = Terms::new();
        let cells = any_start(&self.pair, &mut terms);
        let (wanted, last, restless, met) = self.tell(&mut terms, &cells, limits, freedom)?;
        Ok(Story { terms, cells, wanted, last, restless, met })
    }

    /// What a [`Story`] holds, from these cells.
    fn tell(
        &self,
        terms: &mut Terms,
        cells: &[Term],
        limits: Limits,
        freedom: Freedom,
    ) -> Result<(Vec<Term>, Vec<Term>, Term, Vec<Vec<(Unknown, Term)>>), Over> {
        let pair = &*self.pair;
        let levels: Vec<Term> = self.levels.iter().map(|&b| Term::constant(b)).collect();
        let (mut wanted, mut last, mut met) = (Vec::new(), Vec::new(), Vec::new());
        let mut algebra = Symbolic::new(terms, freedom);
        let outside = pair.outside(ORIGINAL, &levels, Term::FALSE);
        let woken = pair.machines[ORIGINAL].power_up(&mut algebra, &outside, cells, limits);
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
            pair.limit.check()?;
            let before = point.clone();
            let mut views = Vec::new();
            if k > 0 {
                let change: Vec<_> = self.events[k - 1].iter().map(|&(c, b)| (c, Term::constant(b))).collect();
                let mut algebra = Symbolic::new(terms, freedom);
                let stepped = pair.step(&mut algebra, ORIGINAL, &point, &change, limits);
                met.push(algebra.met.into_iter().map(|(site, when, _)| (site, when)).collect());
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
                    pair.alike(terms, c, &original, &constants(seen))
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
        Ok((wanted, last, restless, met))
    }

    /// The shortest prefix of this run that nothing explains, if the whole isn't explained. Short ones are asked about
    /// first: what nobody knows adds up over a long run.
    pub(super) fn shorten(&self, effort: Effort) -> Run {
        let unexplained = |events: usize| matches!(self.prefix(events).explain(effort), Explained::Not);
        let (mut low, mut high) = (0, self.events.len());
        let mut reach = 1;
        while reach < high {
            if unexplained(reach) {
                high = reach;
                break;
            }
            low = reach + 1;
            reach *= 2;
        }
        while low < high {
            let middle = (low + high) / 2;
            if unexplained(middle) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        self.prefix(high)
    }
}
