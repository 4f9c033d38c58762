//! The card with its monitor over symbolic events: from power-up, or from any point at rest.
use crate::machine::{Desk, Film, Freedom, Lanes, NodeId, Passed, Point, Symbolic, Unknown};
use crate::order::{Doubt, Moving, Waves};
use crate::prove::pair::Pair;
use crate::terms::{Term, Terms};

use super::bounded::Found;
use super::monitor::{Monitor, Told};

/// What is asked about: one side of a pair whose other side is empty, and the monitor.
#[derive(Clone, Debug)]
pub(super) struct Subject<'a> {
    pub(super) pair: &'a Pair,
    pub(super) side: usize,
    pub(super) monitor: &'a Monitor,
    pub(super) wanted: Wanted<'a>,
}

/// What is looked for.
#[derive(Clone, Copy, Debug)]
pub(super) enum Wanted<'a> {
    /// The property is broken, or what is to be reached is.
    Broken,
    /// This case of it comes about.
    Case(usize),
    /// A doubt of the order of changes matters: in this kind of event, moved so.
    Doubt { event: usize, moving: &'a Moving, doubt: &'a Doubt },
}

/// A point at rest, with what the monitor has seen by then.
#[derive(Clone, Debug)]
pub(super) struct Place {
    pub(super) levels: Vec<Term>,
    pub(super) point: Point<Term>,
    pub(super) marks: Vec<Term>,
    seen: Vec<Term>,
}

/// Where a symbolic event leads.
#[derive(Clone, Debug)]
pub(super) struct Moved {
    pub(super) place: Place,
    /// The event is one that the board does.
    pub(super) may: Term,
    /// What is looked for is here, once it has come to rest.
    pub(super) found: Term,
    /// It does not come to rest within the rounds.
    pub(super) restless: Term,
    /// The unknowns that may occur, and where they do.
    pub(super) met: Vec<(Unknown, Term)>,
}

/// A beginning: power-up, or any point at rest.
#[derive(Clone, Debug)]
pub(super) struct Begun {
    pub(super) place: Place,
    /// What holds of it.
    pub(super) constraints: Vec<Term>,
    pub(super) found: Term,
    pub(super) restless: Term,
    /// What the cells hold before power comes on.
    pub(super) cells: Vec<Term>,
}

impl Subject<'_> {
    fn machine(&self) -> &crate::machine::Machine {
        &self.pair.machines[self.side]
    }

    fn found(&self, told: &Told<Term>) -> Term {
        match self.wanted {
            Wanted::Broken => told.broken,
            Wanted::Case(i) => told.cases.get(i).copied().unwrap_or(Term::FALSE),
            Wanted::Doubt { .. } => Term::FALSE,
        }
    }

    fn levels(&self, terms: &mut Terms) -> Vec<Term> {
        self.pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect()
    }

    /// Power comes on, with whatever levels the board has and whatever the cells hold.
    pub(super) fn power_up(&self, terms: &mut Terms) -> Begun {
        let levels = self.levels(terms);
        let fixed: Vec<Option<bool>> = self.pair.starts(self.side, Some, |_| None);
        let cells: Vec<Term> = fixed
            .into_iter()
            .map(|f: Option<bool>| match f {
                Some(v) => Term::constant(v),
                None => terms.variable(),
            })
            .collect();
        let mut algebra = Symbolic::new(terms, Freedom::Free);
        let allowed = self.pair.allowed(&mut algebra, &levels);
        let woken = self.pair.awaken(&mut algebra, self.side, &levels, &cells);
        let seen = self.monitor.read(self.machine(), &woken.point);
        let nothing = self.monitor.nothing(&mut algebra);
        let told = self.monitor.tell(&mut algebra, &nothing, None, &seen);
        let found = self.found(&told);
        let place = Place { levels, point: woken.point, marks: told.marks, seen };
        Begun { place, constraints: vec![allowed], found, restless: woken.unsettled, cells }
    }

    /// Any point at rest that keeps the assumptions, whatever was seen before it. Its state is variables alone.
    pub(super) fn anywhere(&self, terms: &mut Terms) -> Begun {
        let levels = self.levels(terms);
        let cells: Vec<Term> = self.machine().cells().iter().map(|_| terms.variable()).collect();
        let marks: Vec<Term> = (0..self.monitor.mark_count()).map(|_| terms.variable()).collect();
        let (place, mut constraints) = self.place(terms, levels, &cells, marks);
        let mut algebra = Symbolic::new(terms, Freedom::Free);
        constraints.push(self.pair.allowed(&mut algebra, &place.levels));
        Begun { place, constraints, found: Term::FALSE, restless: Term::FALSE, cells }
    }

    /// The point at which these levels and bits rest, and what says that they do.
    fn place(&self, terms: &mut Terms, levels: Vec<Term>, cells: &[Term], marks: Vec<Term>) -> (Place, Vec<Term>) {
        let machine = self.machine();
        let mut algebra = Symbolic::new(terms, Freedom::Free);
        let outside = self.pair.outside(self.side, &levels, Term::FALSE);
        let point = machine.point(&mut algebra, &outside, cells);
        let mut rests = Vec::new();
        for c in 0..machine.cells().len() {
            let rest = machine.rests(&mut algebra, &point, c);
            if rest != Term::TRUE {
                rests.push(rest);
            }
        }
        let seen = self.monitor.read(machine, &point);
        (Place { levels, point, marks, seen }, rests)
    }

    /// What the cells hold, the levels of the board and what was seen, as one list.
    pub(super) fn state(&self, place: &Place) -> Vec<Term> {
        let free = self.pair.contacts.iter().zip(&place.levels).filter(|(c, _)| c.is_free).map(|(_, &l)| l);
        let cells = self.machine().held(&place.point);
        free.chain(cells).chain(place.marks.iter().copied()).collect()
    }

    /// One event, any that the board does: which one is a matter of fresh variables.
    pub(super) fn step(&self, terms: &mut Terms, from: &mut Place) -> Moved {
        let machine = self.machine();
        let mut desk: Desk<Term> = Desk::new(machine);
        let card = self.pair.card(self.side, &from.point);
        let mut merged: Option<Branch> = None;
        for (e, event) in self.pair.events.iter().enumerate() {
            let mut levels = from.levels.clone();
            for &c in &event.contacts {
                levels[c] = if event.contacts.len() == 1 { !from.levels[c] } else { terms.variable() };
            }
            let change: Vec<(usize, Term)> = event.contacts.iter().map(|&c| (c, levels[c])).collect();
            let doubt = match self.wanted {
                Wanted::Doubt { event, moving, doubt } if event == e => Some((moving, doubt)),
                _ => None,
            };
            desk.film = doubt.map(|_| Film::new());
            let mut algebra = Symbolic::new(terms, Freedom::Free);
            let may = self.pair.may(&mut algebra, &from.levels, &levels, &card);
            let Passed { unsettled, .. } =
                self.pair.pass(&mut algebra, self.side, (&mut desk, &mut from.point), &change, self.pair.limits);
            let met: Vec<(Unknown, Term)> = algebra.met.iter().map(|&(site, when, _)| (site, when)).collect();
            let cells = machine.held(&from.point);
            let seen = self.monitor.read(machine, &from.point);
            let film = desk.film.take().unwrap_or_default();
            desk.undo(&mut from.point);
            let told = self.monitor.tell(&mut algebra, &from.marks, Some(&from.seen), &seen);
            let found = match doubt {
                None => self.found(&told),
                Some((moving, doubt)) => {
                    let before = |n: NodeId| machine.value(&from.point, n);
                    Waves::new(&mut algebra, machine, moving, &before, &film).when(doubt)
                }
            };
            let branch = Branch { may, levels, cells, marks: told.marks, seen, found, restless: unsettled, met };
            merged = Some(match merged {
                None => branch,
                Some(others) => {
                    let this = terms.variable();
                    branch.or_else(terms, this, others)
                }
            });
        }
        let Some(one) = merged else {
            // nothing ever happens
            let place = from.clone();
            let (may, found, restless) = (Term::FALSE, Term::FALSE, Term::FALSE);
            return Moved { place, may, found, restless, met: Vec::new() };
        };
        // floating nets read anything anew; what was seen is what the event showed
        let (mut place, _) = self.place(terms, one.levels, &one.cells, one.marks);
        place.seen = one.seen;
        Moved { place, may: one.may, found: one.found, restless: one.restless, met: one.met }
    }
}

/// What one kind of event leads to.
struct Branch {
    may: Term,
    levels: Vec<Term>,
    cells: Vec<Term>,
    marks: Vec<Term>,
    seen: Vec<Term>,
    found: Term,
    restless: Term,
    met: Vec<(Unknown, Term)>,
}

impl Branch {
    /// This branch where `when`, the other elsewhere.
    fn or_else(self, terms: &mut Terms, when: Term, other: Branch) -> Branch {
        let mut choose = |a: &[Term], b: &[Term]| -> Vec<Term> {
            a.iter().zip(b).map(|(&a, &b)| terms.choose(when, a, b)).collect()
        };
        let levels = choose(&self.levels, &other.levels);
        let cells = choose(&self.cells, &other.cells);
        let marks = choose(&self.marks, &other.marks);
        let seen = choose(&self.seen, &other.seen);
        let single = choose(&[self.may, self.found, self.restless], &[other.may, other.found, other.restless]);
        let at = |i: usize| single.get(i).copied().unwrap_or(Term::FALSE);
        let (may, found, restless) = (at(0), at(1), at(2));
        let mut met: Vec<(Unknown, Term)> = Vec::with_capacity(self.met.len() + other.met.len());
        for (site, here) in self.met {
            met.push((site, terms.and(when, here)));
        }
        for (site, there) in other.met {
            met.push((site, terms.and(!when, there)));
        }
        Branch { may, levels, cells, marks, seen, found, restless, met }
    }
}

/// A concrete run: levels and cells at power-up, and what changes then.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Run {
    pub(super) levels: Vec<bool>,
    pub(super) cells: Vec<bool>,
    pub(super) events: Vec<Vec<(usize, bool)>>,
}

fn word(high: bool) -> u64 {
    if high { u64::MAX } else { 0 }
}

impl Subject<'_> {
    /// Whether a run, with all unknowns taken as usual, keeps to what the board does and comes to what is looked
    /// for in its last event.
    pub(super) fn replay(&self, run: &Run) -> bool {
        self.follow(run).is_some_and(|(found, _)| found)
    }

    /// A run with what it shows, if it comes to what is looked for.
    pub(super) fn show(&self, run: Run) -> Option<Found> {
        let (found, shown) = self.follow(&run)?;
        found.then_some(Found { run, met: Vec::new(), shown })
    }

    /// A run as usual: whether it comes to what is looked for, and what each port shows at each point; nothing if the board
    /// does not do it, or if it does not come to rest.
    fn follow(&self, run: &Run) -> Option<(bool, Vec<Vec<(bool, bool)>>)> {
        let mut lanes = Lanes::default();
        let (pair, machine) = (self.pair, self.machine());
        let mut levels: Vec<u64> = run.levels.iter().map(|&b| word(b)).collect();
        if pair.allowed(&mut lanes, &levels) & 1 == 0 {
            return None;
        }
        let cells: Vec<u64> = run.cells.iter().map(|&b| word(b)).collect();
        let woken = pair.awake(self.side, &levels, &cells);
        if woken.unsettled & 1 == 1 {
            return None;
        }
        let show = |point: &Point<u64>| -> Vec<(bool, bool)> {
            let ports = (0..machine.ports().len()).map(|p| machine.shown(point, p));
            ports.map(|(drive, level)| (drive & 1 == 1, level & 1 == 1)).collect()
        };
        let mut point = woken.point;
        let mut shown = vec![show(&point)];
        let mut seen = self.monitor.read(machine, &point);
        let nothing = self.monitor.nothing(&mut lanes);
        let mut told = self.monitor.tell(&mut lanes, &nothing, None, &seen);
        for event in &run.events {
            let mut next = levels.clone();
            event.iter().for_each(|&(c, high)| next[c] = word(high));
            let card = pair.card(self.side, &point);
            if pair.may(&mut lanes, &levels, &next, &card) & 1 == 0 {
                return None;
            }
            let change: Vec<(usize, u64)> = event.iter().map(|&(c, high)| (c, word(high))).collect();
            let stepped = pair.step(&mut lanes, self.side, &point, &change, pair.ample());
            if stepped.unsettled & 1 == 1 {
                return None;
            }
            let now = self.monitor.read(machine, &stepped.point);
            told = self.monitor.tell(&mut lanes, &told.marks, Some(&seen), &now);
            shown.push(show(&stepped.point));
            (point, seen, levels) = (stepped.point, now, next);
        }
        let found = match self.wanted {
            Wanted::Broken => told.broken,
            Wanted::Case(i) => told.cases.get(i).copied().unwrap_or(0),
            Wanted::Doubt { .. } => 0,
        };
        Some((found & 1 == 1, shown))
    }
}
