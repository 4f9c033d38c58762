//! What the machine does where a doubt turns out one way: when, in which phases, and what the register or latch takes.
use crate::circuit::{Element, ElementId, Expr, Kind};
use crate::machine::Algebra;

use super::waves::Waves;
use super::{Doubt, Outcome, Role, Rule, Site};

/// What a register or latch takes instead of what the phases give it.
pub(crate) struct Followed<V> {
    /// In which states.
    pub(crate) when: V,
    /// At the end of which phases.
    pub(crate) at: Vec<V>,
    /// What, at the end of each phase; nothing where it may be either level.
    pub(crate) takes: Option<Vec<V>>,
    /// Clear and preset at the end of each phase, where they override it.
    pub(crate) forced: Vec<[V; 2]>,
}

impl<A: Algebra> Waves<'_, A> {
    /// What is done where a doubt turns out so.
    pub(crate) fn followed(&mut self, doubt: &Doubt, outcome: Outcome) -> Followed<A::Value> {
        let mut when = self.when(doubt);
        let mut at = vec![self.no; self.phases];
        let nothing = |when, at| Followed { when, at, takes: None, forced: Vec::new() };
        let Site::Element(id) = doubt.site else { return nothing(when, at) };
        let Some(e) = self.moving.ways.circuit.elements().get(id.index()) else { return nothing(when, at) };
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let is_register = matches!(e.kind, Kind::Register { .. });
        let forces = [self.levels(e.clear), self.levels(e.preset)];
        // what is asserted then and released later overrides it only where that release is known to come after it
        let asserted = Self::ends(&forces);
        let [clear, preset] = forces.clone();
        let mut forced = Self::ends(&[self.lasting(clear), self.lasting(preset)]);
        let before = |levels: &[A::Value]| levels.first().copied();
        let phases = self.phases;
        let always = |level: Option<A::Value>| level.map(|l| vec![l; phases]);
        let Rule::Pulse(role) = doubt.rule else {
            // where the clock rises, or the latch closes
            let (levels, data_levels) = (self.levels(clock), self.levels(data));
            for (at, pair) in at.iter_mut().zip(levels.windows(2)) {
                *at = self.steps(pair, is_register);
            }
            let takes = match (outcome, doubt.rule) {
                (Outcome::Either, _) => None,
                (Outcome::Old, Rule::Recovery) => Some(self.kept(id, &forces)),
                (Outcome::New, Rule::Race) => {
                    let arrived = self.arrived(id, data).high;
                    Some(vec![arrived; self.phases])
                }
                (Outcome::New, Rule::Recovery) => Some(data_levels),
                _ => always(before(&data_levels)),
            };
            if doubt.rule == Rule::Race {
                forced = asserted;
            }
            return Followed { when, at, takes, forced };
        };
        // what pulses acts at once
        at.iter_mut().take(1).for_each(|at| *at = self.yes);
        let acts = self.acts(e, role);
        let takes = match (outcome, role) {
            (Outcome::Either, _) => {
                // what the phases do there comes after it, and may be what does not come
                for (at, act) in at.iter_mut().zip(acts) {
                    *at = self.algebra.or(*at, act);
                }
                None
            }
            (Outcome::NoPulse, _) => {
                // the phases may have the pulse that does not come
                at = acts.clone();
                let spared = self.without(e, role);
                when = self.algebra.and(when, spared);
                let mut forces = forces;
                match role {
                    Role::Clear => forces[0].fill(self.no),
                    Role::Preset => forces[1].fill(self.no),
                    Role::Clock | Role::Gate => {}
                }
                forced = Self::ends(&forces);
                match role {
                    Role::Clock | Role::Gate => Some(self.kept(id, &forces)),
                    Role::Clear | Role::Preset => {
                        let held = before(&self.held(id)).unwrap_or(self.no);
                        let (clocks, data) = (self.levels(clock), before(&self.levels(data)).unwrap_or(held));
                        let rises = self.steps(&clocks, true);
                        let loads = if is_register { self.algebra.choose(rises, data, held) } else { held };
                        Some(vec![loads; self.phases])
                    }
                }
            }
            (_, Role::Clear) => Some(vec![self.no; self.phases]),
            (_, Role::Preset) => Some(vec![self.yes; self.phases]),
            (_, Role::Clock | Role::Gate) => {
                // if the phases have it, it has acted
                let spared = self.without(e, role);
                let seen = acts.into_iter().fold(self.no, |any, act| self.algebra.or(any, act));
                let seen = self.algebra.and(seen, spared);
                let unseen = self.algebra.not(seen);
                when = self.algebra.and(when, unseen);
                always(before(&self.levels(data)))
            }
        };
        Followed { when, at, takes, forced }
    }

    /// The levels of a clear and a preset at the end of each phase.
    fn ends(forces: &[Vec<A::Value>; 2]) -> Vec<[A::Value; 2]> {
        let [clear, preset] = forces;
        clear.iter().zip(preset).skip(1).map(|(&c, &p)| [c, p]).collect()
    }

    /// Where a level stays high to the end of the event, phase by phase.
    fn lasting(&mut self, mut levels: Vec<A::Value>) -> Vec<A::Value> {
        let mut lasts = self.yes;
        for level in levels.iter_mut().rev() {
            lasts = self.algebra.and(lasts, *level);
            *level = lasts;
        }
        levels
    }

    /// What is held at the end of each phase by what was held before the event and by clear and preset alone.
    fn kept(&mut self, id: ElementId, forces: &[Vec<A::Value>; 2]) -> Vec<A::Value> {
        let mut held = self.held(id).first().copied().unwrap_or(self.no);
        let mut kept = Vec::new();
        for [clear, preset] in Self::ends(forces) {
            let set = self.algebra.or(held, preset);
            let spared = self.algebra.not(clear);
            held = self.algebra.and(set, spared);
            kept.push(held);
        }
        kept
    }

    fn input(e: &Element, role: Role) -> Expr {
        let (Kind::Register { clock, .. } | Kind::Latch { open: clock, .. }) = e.kind;
        match role {
            Role::Clock | Role::Gate => clock,
            Role::Clear => e.clear,
            Role::Preset => e.preset,
        }
    }

    /// In which phases an input acts: where a clock rises, and where another one is asserted.
    fn acts(&mut self, e: &Element, role: Role) -> Vec<A::Value> {
        let levels = self.levels(Self::input(e, role));
        match role {
            Role::Clock => levels.windows(2).map(|pair| self.steps(pair, true)).collect(),
            Role::Gate | Role::Clear | Role::Preset => levels.into_iter().skip(1).collect(),
        }
    }

    /// Where an input that does not pulse does not act at all: a clock does not end higher than it began, another one is
    /// asserted neither before nor after.
    fn without(&mut self, e: &Element, role: Role) -> A::Value {
        let levels = self.levels(Self::input(e, role));
        let (before, after) = (levels.first().copied().unwrap_or(self.no), levels.last().copied().unwrap_or(self.no));
        let acts = match role {
            Role::Clock => {
                let was_low = self.algebra.not(before);
                self.algebra.and(was_low, after)
            }
            Role::Gate | Role::Clear | Role::Preset => self.algebra.or(before, after),
        };
        self.algebra.not(acts)
    }
}
