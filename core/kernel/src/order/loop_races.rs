//! Races in loops: gates that feed back on themselves, whose inputs change one after the other or shake.
use std::collections::HashMap;

use super::Doubt;
use super::dependencies::{Signal, What};
use super::glitch::done;
use super::waves::{Mode, Waves};
use crate::circuit::{Expr, Kind, Op};
use crate::machine::{Algebra, Rails};

impl<A: Algebra> Waves<'_, A> {
    /// Where gates that feed back on themselves may settle otherwise than the phases say, because their inputs change one
    /// after the other, even within one phase, or shake. (The gates are released from their old levels, with the changes in
    /// every order that causality allows, and then see the new levels.)
    pub(super) fn race(&mut self, signal: Signal) -> A::Value {
        let moving = self.moving;
        let Some(members) = self.members(signal) else { return self.no };
        let outer = moving.outer(&members);
        self.prepare(&[&outer]);
        let twice = self.twice(&outer);
        if twice == self.no {
            return twice;
        }
        let apart = self.apart(&outer);
        let mut changing = Vec::with_capacity(outer.len());
        for &s in &outer {
            if self.happens(s) != self.no {
                changing.push(s);
            }
        }
        let sets = self.sets(&changing).unwrap_or_default();
        let in_turn = self.let_go(&members, &changing, &sets);
        let at_once = self.let_go(&members, &[], &[0]);
        let mut any = self.no;
        for (in_turn, at_once) in in_turn.into_iter().zip(at_once) {
            let (open, asked) = (in_turn.open(self.algebra), at_once.open(self.algebra));
            // races of changes at one moment are found by the machine itself
            let unasked = self.algebra.not(asked);
            let unasked = self.algebra.or(apart, unasked);
            let here = self.algebra.and(open, unasked);
            any = self.algebra.or(any, here);
        }
        self.algebra.and(twice, any)
    }

    /// All signals of the loop that a signal is in, if it is in one.
    fn members(&self, signal: Signal) -> Option<Vec<Signal>> {
        let component = self.moving.round(signal)?;
        let all = self.moving.order.iter().copied();
        Some(all.filter(|&s| self.moving.round(s) == Some(component)).collect())
    }

    /// Where a loop is closed once all changes have arrived: where its gates and open latches, released from undetermined
    /// levels, stay undetermined. It [matters](Self::when) only there.
    pub(crate) fn closed(&mut self, doubt: &Doubt) -> A::Value {
        let Some(members) = self.members(self.signal(doubt)) else { return self.no };
        let mut state: HashMap<Signal, Rails<A::Value>> = HashMap::new();
        for &m in &members {
            state.insert(m, Rails { high: self.yes, low: self.yes });
        }
        for _ in 0..=members.len() {
            let mut moved = false;
            for &m in &members {
                // a latch that is shut shows what it held
                let held = self.of_signal(m).first().copied().map(|level| Rails::of(self.algebra, level));
                let next = self.member((m, held), &state, &|_| Mode::After);
                moved |= state.insert(m, next) != Some(next);
            }
            if !moved {
                break;
            }
        }
        let mut any = self.no;
        for rails in members.iter().filter_map(|m| state.get(m)) {
            let open = rails.open(self.algebra);
            any = self.algebra.or(any, open);
        }
        any
    }

    /// Where some of these change in different phases, or pulse.
    fn apart(&mut self, outer: &[Signal]) -> A::Value {
        let (mut apart, mut earlier) = (self.no, self.no);
        let courses: Vec<Vec<A::Value>> = outer.iter().map(|&s| self.of_signal(s)).collect();
        for phase in 1..=self.phases {
            let mut here = self.no;
            for course in &courses {
                let change = self.algebra.xor(course[phase - 1], course[phase]);
                here = self.algebra.or(here, change);
            }
            let again = self.algebra.and(earlier, here);
            apart = self.algebra.or(apart, again);
            earlier = self.algebra.or(earlier, here);
        }
        for &s in outer {
            let shakes = self.shakes(s);
            apart = self.algebra.or(apart, shakes);
        }
        apart
    }

    /// What the gates of a loop settle to, released from their old levels: on the way they may see that any of these sets of
    /// the changes has arrived, and any level if there is no set.
    fn let_go(&mut self, members: &[Signal], changing: &[Signal], sets: &[u32]) -> Vec<Rails<A::Value>> {
        let mut state: HashMap<Signal, Rails<A::Value>> = HashMap::new();
        for &m in members {
            let level = self.of_signal(m).first().copied().unwrap_or(self.no);
            state.insert(m, Rails::of(self.algebra, level));
        }
        for widening in [true, false] {
            for _ in 0..=members.len() {
                let mut moved = false;
                for &m in members {
                    let Some(&was) = state.get(&m) else { continue };
                    let mut next = was;
                    if !widening {
                        next = self.member((m, None), &state, &|_| Mode::After);
                    } else if sets.is_empty() {
                        next = self.member((m, None), &state, &|_| Mode::Any).join(self.algebra, was);
                    }
                    for &set in sets.iter().filter(|_| widening) {
                        let seen = |s: Signal| match changing.contains(&s) {
                            true => done(changing, set, s).unless_it_shakes(),
                            // what the board puts on a net of the loop itself, beside other changes
                            false if s == m && !changing.is_empty() => Mode::Any,
                            false => Mode::After,
                        };
                        next = self.member((m, None), &state, &seen).join(self.algebra, next);
                    }
                    moved |= next != was;
                    state.insert(m, next);
                }
                if !moved {
                    break;
                }
            }
        }
        members.iter().filter_map(|m| state.get(m).copied()).collect()
    }

    /// What one gate of a loop shows while the others are in this state. A closed latch shows what it held: `held`, or else
    /// its own state.
    pub(super) fn member(
        &mut self,
        (s, held): (Signal, Option<Rails<A::Value>>),
        state: &HashMap<Signal, Rails<A::Value>>,
        mode: &dyn Fn(Signal) -> Mode,
    ) -> Rails<A::Value> {
        let ways = &self.moving.ways;
        match ways.what(s) {
            What::Net(n) => self.driven((n, mode(s)), &|waves, e| waves.looped(e, state, mode)),
            What::Element(e) => match ways.circuit.elements().get(e.index()).map(|x| (x, x.kind)) {
                Some((x, Kind::Latch { open, data })) => {
                    // what opens, clears and presets it has its final level: other rules find races and pulses there
                    let [open, clear, preset] =
                        [open, x.clear, x.preset].map(|c| self.within(c, state, &|_| Mode::After));
                    let data = self.within(data, state, mode);
                    let held = held.or(state.get(&s).copied()).unwrap_or(Rails { high: self.yes, low: self.yes });
                    let follows = open.choose(self.algebra, data, held);
                    let set = preset.or(self.algebra, follows);
                    clear.not().and(self.algebra, set)
                }
                _ => Rails { high: self.yes, low: self.yes },
            },
        }
    }

    /// An expression with the members of a loop in this state.
    pub(super) fn within(
        &mut self,
        root: Expr,
        state: &HashMap<Signal, Rails<A::Value>>,
        mode: &dyn Fn(Signal) -> Mode,
    ) -> Rails<A::Value> {
        self.folded(root, &|waves, e| waves.looped(e, state, mode))
    }

    fn looped(
        &mut self,
        e: Expr,
        state: &HashMap<Signal, Rails<A::Value>>,
        mode: &dyn Fn(Signal) -> Mode,
    ) -> Rails<A::Value> {
        let ways = &self.moving.ways;
        match ways.leaf(e).and_then(|s| state.get(&s)) {
            Some(rails) if matches!(ways.circuit.op(e), Op::QInverted(_)) => rails.not(),
            Some(rails) => *rails,
            None => self.leaf(e, mode),
        }
    }
}
