//! A step with either outcome where the order of changes leaves it open.
use super::step::Run;
use super::{Algebra, Desk, Film, Limits, Machine, NodeId, Passed, Point, Unknown};
use crate::order::{Followed, Kind, Outcome, Rule, Waves};

/// The most times that a step is repeated because more of it turned out to be open.
const ROUNDS: usize = 4;

/// A cell that may take either level: where, and at the end of which phases.
#[derive(Clone, Debug)]
pub(super) struct Opening<V> {
    cell: u32,
    when: V,
    at: Vec<V>,
    /// What it takes there; nothing if it may be either.
    takes: Option<Vec<V>>,
    /// Clear and preset where they override that, phase by phase.
    forced: Vec<[V; 2]>,
    rule: Rule,
    outcome: Outcome,
}

impl<V: Copy + PartialEq> Opening<V> {
    /// Whether the doubt is about the order of data or a release against the clock; a pulse says nothing of that.
    fn is_race(&self) -> bool {
        matches!(self.rule, Rule::Race | Rule::Recovery)
    }

    /// In which states it matters at the end of this phase.
    fn when<A: Algebra<Value = V>>(&self, algebra: &mut A, phase: usize) -> V {
        let at = self.at.get(phase).copied().unwrap_or_else(|| algebra.constant(false));
        algebra.and(self.when, at)
    }

    /// What the cell takes at the end of this phase if nothing forces it, where the phases give it this.
    fn takes<A: Algebra<Value = V>>(&self, algebra: &mut A, phase: usize, (when, value): (V, V)) -> V {
        let taken = self.takes.as_ref().map(|takes| takes.get(phase).copied().unwrap_or(value));
        match taken {
            Some(taken) => algebra.choose(when, taken, value),
            None => algebra.unknown(Unknown::Order(self.cell), when, value),
        }
    }
}

impl Machine {
    /// The same with either outcome where the order of changes leaves it open. Where that is so depends on what the
    /// step shows, and this on the outcomes: the step is repeated until nothing more is open; after too many rounds the
    /// outcome is open everywhere.
    pub(super) fn pass_either_way<A: Algebra>(
        &self,
        algebra: &mut A,
        (desk, point): (&mut Desk<A::Value>, &mut Point<A::Value>),
        change: &[(usize, A::Value)],
        limits: Limits,
        kind: &Kind,
    ) -> Passed<A::Value> {
        let wanted = desk.film.take();
        let (yes, no) = (algebra.constant(true), algebra.constant(false));
        let mut open: Vec<Opening<A::Value>> = Vec::new();
        let mut round = 0;
        let mut swings;
        let (mut passed, film) = loop {
            desk.film = Some(Film::new());
            desk.open.clone_from(&open);
            let passed = self.pass_as_phases_say(algebra, desk, point, change, limits);
            let film = desk.film.take().unwrap_or_default();
            let next: Vec<Opening<A::Value>> = {
                let (desk, point) = (&*desk, &*point);
                let before = |n: NodeId| desk.before(point, n);
                let mut waves = Waves::new(algebra, self, &kind.moving, &before, &film);
                let found = kind.doubts.iter().filter_map(|&(ref d, outcome)| {
                    let cell = d.cell()? as u32;
                    let Followed { when, at, takes, forced } = waves.followed(d, outcome);
                    Some(Opening { cell, when, at, takes, forced, rule: d.rule, outcome })
                });
                found.collect()
            };
            let mut more = false;
            swings = no;
            for (i, mut found) in next.into_iter().enumerate() {
                let Some(known) = open.get_mut(i) else {
                    more |= found.when != no;
                    open.push(found);
                    continue;
                };
                found.when = algebra.or(known.when, found.when);
                found.at.resize(found.at.len().max(known.at.len()), no);
                for (at, &was) in found.at.iter_mut().zip(&known.at) {
                    *at = algebra.or(*at, was);
                }
                let moved = found.when != known.when || found.at != known.at || found.takes != known.takes;
                if found.when != no && moved {
                    more = true;
                    if found.takes.is_some() {
                        swings = algebra.or(swings, found.when);
                    }
                    *known = found;
                }
            }
            if !more || round == ROUNDS {
                break (passed, film);
            }
            round += 1;
            if round == ROUNDS {
                // too many rounds: what may take either level may do so in every state
                open.iter_mut().filter(|o| o.when != no && o.takes.is_none()).for_each(|o| o.when = yes);
            }
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
            known = algebra.or(known, opening.when);
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
            let when = opening.when(algebra, phase);
            let Some(source) = self.machine.cells.get(opening.cell as usize).map(|c| c.source) else { continue };
            if when == never {
                continue;
            }
            let changed = changes.iter().position(|c| c.0 == source);
            let value = changed.and_then(|i| changes.get(i)).map_or_else(|| self.now.at(source), |c| c.1);
            let [clear, preset] = opening.forced.get(phase).copied().unwrap_or([never; 2]);
            let forced = algebra.or(clear, preset);
            let free = algebra.not(forced);
            let free = algebra.and(when, free);
            let mut taken = opening.takes(algebra, phase, (free, value));
            if (opening.rule, opening.outcome) == (Rule::Recovery, Outcome::New) {
                // an edge that counts loads what its own race gives it
                for race in self.desk.open.iter().filter(|o| o.cell == opening.cell && o.rule == Rule::Race) {
                    let races = race.when(algebra, phase);
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
