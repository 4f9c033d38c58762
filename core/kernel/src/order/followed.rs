//! What the machine does where a doubt turns out one way: when, in which phases, and what the register or latch takes.
use crate::circuit::{Element, Expr, Kind};
use crate::machine::Algebra;

use super::waves::Waves;
use super::{Doubt, Outcome, Role, Rule, Site};

/// What a register or latch takes instead of what the phases give it.
pub(crate) struct Followed<V> {
    /// In which states.
    pub(crate) when: V,
    /// At the end of which phases.
    pub(crate) at: Vec<V>,
    /// What; nothing where it may be either level.
    pub(crate) takes: Option<V>,
}

impl<A: Algebra> Waves<'_, A> {
    /// What is done where a doubt turns out so.
    pub(crate) fn followed(&mut self, doubt: &Doubt, outcome: Outcome) -> Followed<A::Value> {
        let mut when = self.when(doubt);
        let mut at = vec![self.no; self.phases];
        let Site::Element(id) = doubt.site else { return Followed { when, at, takes: None } };
        let Some(e) = self.moving.ways.circuit.elements().get(id.index()) else {
            return Followed { when, at, takes: None };
        };
        let (Kind::Register { clock, data } | Kind::Latch { open: clock, data }) = e.kind;
        let is_register = matches!(e.kind, Kind::Register { .. });
        let first = |levels: Vec<A::Value>| levels.first().copied();
        let Rule::Pulse(role) = doubt.rule else {
            // where the clock rises, or the latch closes
            let levels = self.levels(clock);
            for (at, pair) in at.iter_mut().zip(levels.windows(2)) {
                *at = self.steps(pair, is_register);
            }
            let takes = match (outcome, doubt.rule) {
                (Outcome::Either, _) => None,
                (Outcome::Old, Rule::Recovery) => first(self.held(id)),
                (Outcome::New, Rule::Race) => Some(self.arrived(id, data).high),
                _ => first(self.levels(data)),
            };
            return Followed { when, at, takes };
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
                let held = first(self.held(id)).unwrap_or(self.no);
                Some(match role {
                    Role::Clock | Role::Gate => held,
                    Role::Clear | Role::Preset => {
                        let clocks = self.levels(clock);
                        let (rises, data) = (self.steps(&clocks, true), first(self.levels(data)).unwrap_or(held));
                        if is_register { self.algebra.choose(rises, data, held) } else { held }
                    }
                })
            }
            (_, Role::Clear) => Some(self.no),
            (_, Role::Preset) => Some(self.yes),
            (_, Role::Clock | Role::Gate) => {
                // if the phases have it, it has acted
                let spared = self.without(e, role);
                let seen = acts.into_iter().fold(self.no, |any, act| self.algebra.or(any, act));
                let seen = self.algebra.and(seen, spared);
                let unseen = self.algebra.not(seen);
                when = self.algebra.and(when, unseen);
                first(self.levels(data))
            }
        };
        Followed { when, at, takes }
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
