//! A step with either outcome where the order of changes leaves it open.
use super::step::Run;
use super::{Algebra, Desk, Film, Limits, Machine, NodeId, Passed, Point, Unknown};
use crate::order::{Doubt, Followed, Kind, Outcome, Rule, Waves};

/// The most times that a step is repeated because more of it turned out to be open.
const ROUNDS: usize = 4;

/// A cell that may take either level, or one that is known.
#[derive(Clone, Debug)]
pub(super) struct Opening<V> {
    cell: u32,
    rule: Rule,
    outcome: Outcome,
    /// In which states, and at the end of which phases there.
    when: V,
    at: Vec<V>,
    /// What it takes there; nothing if it may be either.
    takes: Option<Vec<V>>,
    /// Clear and preset where they override that.
    forced: Vec<[V; 2]>,
}

impl<V: Copy + PartialEq> Opening<V> {
    fn new((doubt, outcome): &(Doubt, Outcome), followed: Followed<V>) -> Option<Self> {
        let Followed { when, at, takes, forced } = followed;
        let cell = doubt.cell()? as u32;
        Some(Opening { cell, rule: doubt.rule, outcome: *outcome, when, at, takes, forced })
    }

    /// Whether the doubt is about the order of data or a release against the clock; a pulse says nothing of that.
    fn is_race(&self) -> bool {
        matches!(self.rule, Rule::Race | Rule::Recovery)
    }

    fn acts<A: Algebra<Value = V>>(&self, algebra: &mut A, phase: usize) -> V {
        let at = self.at.get(phase).copied().unwrap_or_else(|| algebra.constant(false));
        algebra.and(self.when, at)
    }

    fn forced<A: Algebra<Value = V>>(&self, algebra: &mut A, phase: usize) -> [V; 2] {
        self.forced.get(phase).copied().unwrap_or_else(|| [algebra.constant(false); 2])
    }

    /// What the cell takes at the end of this phase if nothing forces it, where the phases give it this.
    fn takes<A: Algebra<Value = V>>(&self, algebra: &mut A, phase: usize, (when, value): (V, V)) -> V {
        let taken = self.takes.as_ref().map(|takes| takes.get(phase).copied().unwrap_or(value));
        match taken {
            Some(taken) => algebra.choose(when, taken, value),
            None => algebra.unknown(Unknown::Order(self.cell), when, value),
        }
    }

    /// Goes on to what was found next; what acted once goes on acting. Returns the states in which that is another step.
    fn advance<A: Algebra<Value = V>>(&mut self, algebra: &mut A, next: Opening<V>) -> V {
        let no = algebra.constant(false);
        let mut moving = no;
        let was = self.clone();
        let phases = self.at.len().max(next.at.len());
        self.when = algebra.or(was.when, next.when);
        self.at.resize(phases, no);
        for (at, &found) in self.at.iter_mut().zip(&next.at) {
            *at = algebra.or(*at, found);
        }
        for phase in 0..phases {
            let (acted, acts) = (was.acts(algebra, phase), self.acts(algebra, phase));
            let [mut one, mut other] = [algebra.xor(acts, acted), no];
            // what it takes counts only where it acts
            let pairs = [&was, &next].map(|o| {
                let [clear, preset] = o.forced(algebra, phase);
                [o.takes.as_ref().and_then(|takes| takes.get(phase).copied()).unwrap_or(no), clear, preset]
            });
            for (a, b) in pairs[0].into_iter().zip(pairs[1]) {
                let differs = algebra.xor(a, b);
                other = algebra.or(other, differs);
            }
            let other = algebra.and(acts, other);
            one = algebra.or(one, other);
            moving = algebra.or(moving, one);
        }
        (self.takes, self.forced) = (next.takes, next.forced);
        moving
    }
}

impl Machine {
    /// The same with either outcome where the order of changes leaves it open. Where that is so depends on what the
    /// step shows, and this on the outcomes: the step is repeated until nothing more is open; in the states in which that
    /// takes too many rounds the outcome is open whatever else the doubt asks for.
    pub(super) fn pass_either_way<A: Algebra>(
        &self,
        algebra: &mut A,
        (desk, point): (&mut Desk<A::Value>, &mut Point<A::Value>),
        change: &[(usize, A::Value)],
        limits: Limits,
        kind: &Kind,
    ) -> Passed<A::Value> {
        let wanted = desk.film.take();
        let no = algebra.constant(false);
        let mut open: Vec<Opening<A::Value>> = Vec::new();
        let mut round = 0;
        let (mut passed, film, swings) = loop {
            desk.film = Some(Film::new());
            desk.open.clone_from(&open);
            let passed = self.pass_as_phases_say(algebra, desk, point, change, limits);
            let film = desk.film.take().unwrap_or_default();
            let next: Vec<Opening<A::Value>> = {
                let (desk, point) = (&*desk, &*point);
                let before = |n: NodeId| desk.before(point, n);
                let mut waves = Waves::new(algebra, self, &kind.moving, &before, &film);
                let followed: Vec<_> = kind.doubts.iter().map(|(d, outcome)| waves.followed(d, *outcome)).collect();
                let pairs = kind.doubts.iter().zip(followed);
                pairs.filter_map(|(doubt, followed)| Opening::new(doubt, followed)).collect()
            };
            let mut swings = no;
            let is_first = open.is_empty();
            for (i, found) in next.into_iter().enumerate() {
                let Some(known) = open.get_mut(i).filter(|_| !is_first) else {
                    for phase in 0..found.at.len() {
                        let acts = found.acts(algebra, phase);
                        swings = algebra.or(swings, acts);
                    }
                    open.push(found);
                    continue;
                };
                let moving = known.advance(algebra, found);
                if known.takes.is_none() && round == ROUNDS {
                    // it is open already wherever the phases let it be
                    continue;
                }
                swings = algebra.or(swings, moving);
                if known.takes.is_none() && round + 1 == ROUNDS {
                    known.when = algebra.or(known.when, moving);
                }
            }
            if swings == no || round == ROUNDS {
                break (passed, film, swings);
            }
            round += 1;
            desk.undo(point);
        };
        // an outcome that depends on itself is not known
        passed.unsettled = algebra.or(passed.unsettled, swings);
        desk.open.clear();
        desk.film = wanted.map(|_| film);
        passed
    }
}

impl<V: Copy + PartialEq + std::fmt::Debug> Run<'_, V> {
    /// Where what a cell takes against its clock is known, so that it does not race.
    pub(super) fn known<A: Algebra<Value = V>>(&self, algebra: &mut A, cell: u32) -> V {
        let mut known = algebra.constant(false);
        for opening in self.desk.open.iter().filter(|o| o.cell == cell && o.is_race() && o.takes.is_some()) {
            for phase in 0..opening.at.len() {
                let acts = opening.acts(algebra, phase);
                known = algebra.or(known, acts);
            }
        }
        known
    }

    /// Gives cells whose outcome is open at the end of this phase either level.
    pub(super) fn either<A: Algebra<Value = V>>(
        &mut self,
        algebra: &mut A,
        phase: usize,
        changes: &mut Vec<(NodeId, V)>,
    ) {
        if self.desk.open.is_empty() {
            return;
        }
        let never = algebra.constant(false);
        for opening in &self.desk.open {
            let when = opening.acts(algebra, phase);
            let Some(source) = self.machine.cells.get(opening.cell as usize).map(|c| c.source) else { continue };
            if when == never {
                continue;
            }
            let changed = changes.iter().position(|c| c.0 == source);
            let value = changed.and_then(|i| changes.get(i)).map_or_else(|| self.now.at(source), |c| c.1);
            let [clear, preset] = opening.forced(algebra, phase);
            let forced = algebra.or(clear, preset);
            let free = algebra.not(forced);
            let free = algebra.and(when, free);
            let mut taken = opening.takes(algebra, phase, (free, value));
            if (opening.rule, opening.outcome) == (Rule::Recovery, Outcome::New) {
                // an edge that counts loads what its own race gives it
                for race in self.desk.open.iter().filter(|o| o.cell == opening.cell && o.rule == Rule::Race) {
                    let races = race.acts(algebra, phase);
                    let races = algebra.and(races, free);
                    taken = race.takes(algebra, phase, (races, taken));
                }
            }
            let set = algebra.not(clear);
            let set = algebra.and(set, preset);
            let forced = algebra.choose(forced, set, taken);
            let either = algebra.choose(when, forced, value);
            match changed.and_then(|i| changes.get_mut(i)) {
                Some(change) => change.1 = either,
                None if either != value => changes.push((source, either)),
                None => {}
            }
        }
    }
}
