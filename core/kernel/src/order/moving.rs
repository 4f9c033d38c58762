//! One kind of event by structure alone: what it can move, and what certainly comes before what.
//!
//! `a` is before `b` by causality if all that can move `b` goes through `a`: if `a` dominates `b` among the ways from the
//! contacts that change. (Dominators by iteration: Cooper, Harvey and Kennedy, "A Simple, Fast Dominance Algorithm",
//! 2001. Components by two walks: Kosaraju 1978, Sharir 1981.)
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::dependencies::{Inputs, Signal, Ways, What};
use super::{Doubt, Role, Rule, Site};
use crate::circuit::ElementId;

/// Not moved.
const STILL: u32 = u32::MAX;

/// What one kind of event moves.
#[derive(Clone, Debug)]
pub(crate) struct Moving {
    pub(super) ways: Arc<Ways>,
    /// The signals that the event can move, each after what dominates it.
    pub(super) order: Vec<Signal>,
    /// For each signal its place in `order`, counted from 1: 0 is the event itself.
    place: Vec<u32>,
    /// For each place the place of its closest dominator.
    above: Vec<u32>,
    /// For each place its component: components are numbered along the ways.
    component: Vec<u32>,
    /// For each component, whether it goes round.
    goes_round: Vec<bool>,
    /// For each place, whether it may change more than once.
    often: Vec<bool>,
    /// The nets that the board moves.
    pub(super) roots: Vec<Signal>,
}

impl Moving {
    /// What moves when these contacts change, given by position.
    pub(crate) fn of(ways: &Arc<Ways>, contacts: &[usize]) -> Self {
        let nets = contacts.iter().filter_map(|&c| ways.circuit.contacts().get(c)).map(|c| ways.of_net(c.net));
        let mut roots: Vec<Signal> = nets.collect();
        roots.sort_unstable();
        roots.dedup();
        let mut moving = Moving {
            ways: Arc::clone(ways),
            order: Vec::new(),
            place: vec![STILL; ways.count()],
            above: vec![0],
            component: vec![0],
            goes_round: vec![false],
            often: vec![false],
            roots,
        };
        moving.walk();
        moving.dominate();
        moving.components();
        moving.changes_often();
        moving
    }

    /// Reverse postorder from the contacts.
    fn walk(&mut self) {
        let mut after = Vec::new();
        let mut seen = vec![false; self.ways.count()];
        for &root in &self.roots {
            let mut stack = vec![(root, 0)];
            if std::mem::replace(&mut seen[root.index()], true) {
                continue;
            }
            while let Some((s, next)) = stack.pop() {
                match self.ways.users[s.index()].get(next) {
                    Some(&user) => {
                        stack.push((s, next + 1));
                        if !std::mem::replace(&mut seen[user.index()], true) {
                            stack.push((user, 0));
                        }
                    }
                    None => after.push(s),
                }
            }
        }
        after.reverse();
        for (i, s) in after.iter().enumerate() {
            self.place[s.index()] = i as u32 + 1;
        }
        self.order = after;
    }

    /// The places of what moves a signal; the event itself is 0.
    fn movers_of(&self, s: Signal) -> Vec<u32> {
        let mut all: Vec<u32> = self.ways.acting[s.index()].iter().map(|m| self.place[m.index()]).collect();
        all.retain(|&p| p != STILL);
        if self.roots.contains(&s) {
            all.push(0);
        }
        all
    }

    fn dominate(&mut self) {
        let movers: Vec<Vec<u32>> = self.order.iter().map(|&s| self.movers_of(s)).collect();
        let mut above = vec![STILL; self.order.len() + 1];
        above[0] = 0;
        let mut moved = true;
        while moved {
            moved = false;
            for (i, movers) in movers.iter().enumerate() {
                let mut closest = STILL;
                for &m in movers.iter().filter(|&&m| above[m as usize] != STILL) {
                    closest = if closest == STILL { m } else { meet(&above, closest, m) };
                }
                if closest != STILL && above[i + 1] != closest {
                    above[i + 1] = closest;
                    moved = true;
                }
            }
        }
        self.above = above;
    }

    fn components(&mut self) {
        let mut component = vec![STILL; self.order.len() + 1];
        component[0] = 0;
        let mut goes_round = vec![false];
        for (i, &s) in self.order.iter().enumerate() {
            if component[i + 1] != STILL {
                continue;
            }
            let number = goes_round.len() as u32;
            component[i + 1] = number;
            let (mut stack, mut members) = (vec![s], 0);
            while let Some(s) = stack.pop() {
                members += 1;
                for m in self.movers_of(s) {
                    if m > 0 && component[m as usize] == STILL {
                        component[m as usize] = number;
                        stack.push(self.order[m as usize - 1]);
                    }
                }
            }
            goes_round.push(members > 1 || self.ways.acting[s.index()].contains(&s));
        }
        self.component = component;
        self.goes_round = goes_round;
    }

    fn changes_often(&mut self) {
        let mut often = vec![false; self.order.len() + 1];
        // components are numbered in an order along the ways
        let mut by_component: Vec<usize> = (0..self.order.len()).collect();
        by_component.sort_by_key(|&i| self.component[i + 1]);
        for i in by_component {
            let movers = self.movers_of(self.order[i]);
            often[i + 1] = movers.len() > 1
                || movers.iter().any(|&m| often[m as usize])
                || self.goes_round[self.component[i + 1] as usize];
        }
        self.often = often;
    }

    /// Whether the event can move it.
    pub(super) fn moves(&self, s: Signal) -> bool {
        self.place.get(s.index()).is_some_and(|&p| p != STILL)
    }

    /// Those of these that the event can move.
    pub(super) fn movers(&self, of: &[Signal]) -> Vec<Signal> {
        of.iter().copied().filter(|&s| self.moves(s)).collect()
    }

    /// Whether it may change more than once, as far as structure tells.
    pub(super) fn may_often(&self, s: Signal) -> bool {
        self.moves(s) && self.often[self.place[s.index()] as usize]
    }

    /// The component of a signal that moves, if it goes round.
    pub(super) fn round(&self, s: Signal) -> Option<u32> {
        let component = self.component[self.place.get(s.index()).copied().filter(|&p| p != STILL)? as usize];
        self.goes_round[component as usize].then_some(component)
    }

    /// A number of the component of a signal that moves; along the ways it rises.
    pub(super) fn component_of(&self, s: Signal) -> u32 {
        match self.place.get(s.index()) {
            Some(&p) if p != STILL => self.component[p as usize],
            _ => 0,
        }
    }

    /// Whether all that can move `b` goes through `a`.
    pub(super) fn dominates(&self, a: Signal, b: Signal) -> bool {
        if !self.moves(a) || !self.moves(b) {
            return false;
        }
        let (a, mut b) = (self.place[a.index()], self.place[b.index()]);
        while b > a {
            b = self.above[b as usize];
        }
        a == b
    }

    /// Those that `from` reaches through no register, itself included.
    fn at_once(&self, from: Signal) -> Vec<bool> {
        let mut reached = vec![false; self.ways.count()];
        reached[from.index()] = true;
        let mut stack = vec![from];
        while let Some(s) = stack.pop() {
            for &user in &self.ways.users[s.index()] {
                if !self.ways.is_register(user) && !std::mem::replace(&mut reached[user.index()], true) {
                    stack.push(user);
                }
            }
        }
        reached
    }

    /// Whether a change comes from that of a clock, and through registers: `at_once` says what it reaches without them.
    fn is_after(&self, clock: Signal, at_once: &[bool], d: Signal) -> bool {
        d != clock && self.dominates(clock, d) && at_once.get(d.index()) != Some(&true)
    }

    /// Each change of an element's data that is not certain to come after its clock's, with that of the clock. What comes
    /// through registers comes after the edge that it comes from; no latch is so fast.
    fn unordered(&self, inputs: &Inputs, reach: &mut BTreeMap<Signal, Vec<bool>>) -> Vec<(Signal, Signal)> {
        let data = self.movers(&inputs.data);
        let mut all = Vec::new();
        for k in self.movers(&inputs.clock) {
            let at_once = reach.entry(k).or_insert_with(|| self.at_once(k));
            let after = |d: Signal| inputs.is_register && self.is_after(k, at_once, d);
            all.extend(data.iter().filter(|&&d| !after(d)).map(|&d| (k, d)));
        }
        all
    }

    /// What moves an element's clock, each with the changes of its data that are not certain to come after that.
    pub(super) fn raced(&self, inputs: &Inputs) -> Vec<(Signal, Vec<Signal>)> {
        let unordered = self.unordered(inputs, &mut BTreeMap::new());
        let all = unordered.chunk_by(|a, b| a.0 == b.0);
        all.filter_map(|of| Some((of.first()?.0, of.iter().map(|u| u.1).collect()))).collect()
    }

    /// Whether a signal is certain to change after the clock of an element that it is data of, by the rule of
    /// [unordered](Self::unordered).
    pub(super) fn later(&self, element: ElementId) -> impl Fn(Signal) -> bool + '_ {
        let inputs = self.ways.inputs.get(self.ways.of_element(element).index());
        let is_register = inputs.is_some_and(|i| i.is_register);
        let clocks = inputs.map(|i| self.movers(&i.clock)).unwrap_or_default();
        let clocks: Vec<(Signal, Vec<bool>)> = clocks.into_iter().map(|k| (k, self.at_once(k))).collect();
        move |d| is_register && !clocks.is_empty() && clocks.iter().all(|(k, at_once)| self.is_after(*k, at_once, d))
    }

    /// Whether a signal of this kind moves a net through gates outside of loops.
    pub(super) fn is_followed_by(&self, net: Signal, kind: &dyn Fn(Signal) -> bool) -> bool {
        let (mut seen, mut open, mut found) = (BTreeSet::from([net]), vec![net], false);
        while let Some(s) = open.pop() {
            if !self.ways.is_net(s) || self.roots.contains(&s) || self.round(s).is_some() {
                if s == net {
                    return false;
                }
                continue;
            }
            for m in self.movers(&self.ways.acting[s.index()]) {
                found |= kind(m);
                if !kind(m) && seen.insert(m) {
                    open.push(m);
                }
            }
        }
        found
    }

    /// The closest common dominator of two signals; nothing if that is the event itself.
    pub(super) fn common(&self, a: Signal, b: Signal) -> Option<Signal> {
        if !self.moves(a) || !self.moves(b) {
            return None;
        }
        let top = meet(&self.above, self.place[a.index()], self.place[b.index()]);
        self.order.get((top as usize).checked_sub(1)?).copied()
    }

    /// The way from the closest common cause of two signals to each of them.
    pub(super) fn ways_to(&self, a: Signal, b: Signal) -> (Vec<Signal>, Vec<Signal>) {
        let [a, b] = [a, b].map(|s| self.place[s.index()]);
        let top = meet(&self.above, a, b);
        (self.way(top, a), self.way(top, b))
    }

    /// What dominates a place, from a dominator of it on.
    fn way(&self, top: u32, mut to: u32) -> Vec<Signal> {
        let mut way = Vec::new();
        while to > top {
            way.push(self.order[to as usize - 1]);
            to = self.above[to as usize];
        }
        if top > 0 {
            way.push(self.order[top as usize - 1]);
        }
        way.reverse();
        way
    }

    fn alone(&self, s: Signal) -> Vec<Signal> {
        self.way(0, self.place[s.index()])
    }

    /// What the phases take for granted and causality does not.
    pub(crate) fn doubts(&self) -> Vec<Doubt> {
        let mut all = Vec::new();
        let mut reach = BTreeMap::new();
        for i in 0..self.ways.circuit.elements().len() {
            let element = ElementId(i as u32);
            let site = Site::Element(element);
            let own = self.ways.of_element(element);
            let Some(inputs) = self.ways.inputs.get(own.index()) else { continue };
            let [clock, clear, preset] = [&inputs.clock, &inputs.clear, &inputs.preset].map(|s| self.movers(s));
            let forced: Vec<Signal> = clear.iter().chain(&preset).copied().collect();
            let role = if inputs.is_register { Role::Clock } else { Role::Gate };
            for (role, of) in [(role, &clock), (Role::Clear, &clear), (Role::Preset, &preset)] {
                // a clear or preset that the element itself ends has lasted long enough for it
                let itself = |s: Signal| role != Role::Clock && role != Role::Gate && self.dominates(own, s);
                let shaky = of.iter().copied().find(|&s| self.may_often(s) && !itself(s));
                let several = of.get(1).copied().filter(|_| !of.iter().all(|&s| itself(s)));
                if let Some(s) = shaky.or(several) {
                    all.push(Doubt {
                        site,
                        rule: Rule::Pulse(role),
                        first: self.alone(s),
                        second: Vec::new(),
                        open: Vec::new(),
                    });
                }
            }
            let against = |rule, first: Signal, second: Signal| {
                let (first, second) = self.ways_to(first, second);
                Doubt { site, rule, first, second, open: Vec::new() }
            };
            let unordered = self.unordered(inputs, &mut reach);
            if let Some(&(k, d)) = unordered.first() {
                let open = unordered.iter().map(|u| u.1).collect();
                all.push(Doubt { open, ..against(Rule::Race, k, d) });
            }
            // what the edge itself brings about is no release before it
            let later = clock.iter().all(|&k| forced.iter().all(|&x| k != x && self.dominates(k, x)));
            if let (Some(&k), Some(&x), false) = (clock.first(), forced.first(), later) {
                all.push(against(Rule::Recovery, k, x));
            }
            if let (Some(&x), Some(&y)) = (clear.first(), preset.first()) {
                all.push(against(Rule::JointRelease, x, y));
            }
        }
        self.loops(&mut all);
        all
    }

    /// Gates that feed back on themselves, with more than one change at their inputs.
    fn loops(&self, all: &mut Vec<Doubt>) {
        let mut members: BTreeMap<u32, Vec<Signal>> = BTreeMap::new();
        for &s in &self.order {
            if let Some(component) = self.round(s) {
                members.entry(component).or_default().push(s);
            }
        }
        for group in members.values() {
            // one of its nets, or a latch that feeds itself without one
            let Some(&named) = group.iter().find(|&&s| self.ways.is_net(s)).or(group.first()) else { continue };
            let site = match self.ways.what(named) {
                What::Net(n) => Site::Loop(n),
                What::Element(e) => Site::Element(e),
            };
            let outer = self.outer(group);
            let shaky = outer.iter().copied().find(|&s| self.may_often(s));
            let rule = Rule::Loop;
            match (shaky, &outer[..]) {
                (_, &[a, b, ..]) => {
                    let (first, second) = self.ways_to(a, b);
                    all.push(Doubt { site, rule, first, second, open: Vec::new() });
                }
                (Some(s), _) => {
                    all.push(Doubt { site, rule, first: self.alone(s), second: Vec::new(), open: Vec::new() })
                }
                (None, _) => {}
            }
        }
    }

    /// What moves some of these from outside of them.
    pub(super) fn outer(&self, group: &[Signal]) -> Vec<Signal> {
        let acting = group.iter().flat_map(|s| &self.ways.acting[s.index()]);
        let mut outer: Vec<Signal> = acting.copied().filter(|s| self.moves(*s) && !group.contains(s)).collect();
        outer.sort_unstable();
        outer.dedup();
        outer
    }
}

/// The closest common dominator of two places.
fn meet(above: &[u32], mut a: u32, mut b: u32) -> u32 {
    while a != b {
        while a > b {
            a = above[a as usize];
        }
        while b > a {
            b = above[b as usize];
        }
    }
    a
}
