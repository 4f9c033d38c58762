//! Everything that one circuit can do: at power-up, and in an event.
use std::collections::BTreeSet;

use super::settle::{Settled, Shown, Side, State};

/// One thing that can come of an event.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Outcome {
    /// Nothing if it did not come to rest.
    pub(super) state: Option<State>,
    /// What the contacts showed at the end of each phase.
    pub(super) views: Vec<Shown>,
}

impl Side<'_> {
    /// Every settled state that power-up can come to, with these levels outside. `held` fixes some elements by name.
    pub(super) fn wake(&self, outside: &[bool], held: &dyn Fn(&str) -> Option<bool>) -> Vec<Outcome> {
        let fixed: Vec<Option<bool>> = self
            .circuit
            .elements()
            .iter()
            .zip(&self.live)
            .map(|(e, live)| e.start.level().or_else(|| held(&e.name)).or(if *live { None } else { Some(false) }))
            .collect();
        let loops: Vec<Option<bool>> = self.looped.iter().map(|&n| held(&self.circuit.nets()[n].name)).collect();
        let open: Vec<&Option<bool>> = fixed.iter().chain(&loops).filter(|f| f.is_none()).collect();
        let count = open.len() + self.floating.len();
        let mut all = BTreeSet::new();
        // loops start settled, any way: what settles them here is no race
        let (raced, late) = (self.raced.get(), self.late.get());
        for code in 0..1u64 << count {
            let mut bits = (0..count).map(|k| (code >> k) & 1 == 1);
            let mut take = |f: &Option<bool>| f.unwrap_or_else(|| bits.next().unwrap_or(false));
            let s = State {
                held: fixed.iter().map(&mut take).collect(),
                both: vec![false; fixed.len()],
                loops: loops.iter().map(&mut take).collect(),
                floats: self.floating.iter().map(|_| take(&None)).collect(),
            };
            for settled in self.settle(&s, outside) {
                let Some(mut settled) = settled else {
                    all.insert(Outcome { state: None, views: Vec::new() });
                    continue;
                };
                // what clear and preset do to both outputs at once is no edge of anything
                for _ in 0..fixed.len() {
                    let mut s = settled.state.clone();
                    for (e, i) in self.programs[0].elements.iter().enumerate().filter(|(e, _)| self.live[*e]) {
                        s.both[e] = settled.values[i.clear] && settled.values[i.preset];
                    }
                    if s == settled.state {
                        break;
                    }
                    match self.settle(&s, outside).into_iter().next().flatten() {
                        Some(next) => settled = next,
                        None => break,
                    }
                }
                let before = settled.values.clone();
                self.phases(&settled.state, &before, outside, &mut Vec::new(), &mut all);
            }
        }
        self.raced.set(raced);
        self.late.set(late);
        // only where it rests is compared at power-up
        let ends = all.into_iter().map(|o| Outcome { views: Vec::new(), ..o }).collect::<BTreeSet<_>>();
        ends.into_iter().collect()
    }

    /// Everything that can come of new levels outside.
    pub(super) fn step(&self, from: &State, was: &[bool], outside: &[bool]) -> Vec<Outcome> {
        let before = self.run(&self.programs[0], from, was);
        let mut all = BTreeSet::new();
        for code in 0..1u64 << self.floating.len() {
            let mut s = from.clone();
            for (k, f) in s.floats.iter_mut().enumerate() {
                *f = (code >> k) & 1 == 1;
            }
            self.phases(&s, &before, outside, &mut Vec::new(), &mut all);
        }
        all.into_iter().collect()
    }

    /// Phase after phase; branches where something is unknown.
    fn phases(
        &self,
        state: &State,
        before: &[bool],
        outside: &[bool],
        views: &mut Vec<Shown>,
        all: &mut BTreeSet<Outcome>,
    ) {
        if views.len() > 24 + 4 * state.held.len() {
            all.insert(Outcome { state: None, views: Vec::new() });
            return;
        }
        for settled in self.settle(state, outside) {
            let Some(settled) = settled else {
                all.insert(Outcome { state: None, views: Vec::new() });
                continue;
            };
            for settled in self.latches_released(settled, before, outside) {
                let now = &settled.values;
                views.push(self.shown(now));
                let mut options: Vec<Vec<bool>> = Vec::new();
                let mut both = settled.state.both.clone();
                for (e, i) in self.programs[0].elements.iter().enumerate() {
                    let holds = settled.state.held[e];
                    if !i.is_register || !self.live[e] {
                        options.push(vec![holds]);
                        continue;
                    }
                    both[e] = now[i.clear] && now[i.preset];
                    let edge = !before[i.clock] && now[i.clock];
                    let was_forced = before[i.clear] || before[i.preset];
                    let mut can = if now[i.clear] {
                        vec![false]
                    } else if now[i.preset] {
                        vec![true]
                    } else if (before[i.clear] && before[i.preset]) || (edge && before[i.unknown]) {
                        vec![false, true]
                    } else if edge && was_forced {
                        vec![holds, before[i.data], now[i.data]]
                    } else if edge {
                        vec![before[i.data], now[i.data]]
                    } else {
                        vec![holds]
                    };
                    can.sort_unstable();
                    can.dedup();
                    options.push(can);
                }
                let mut combinations: Vec<Vec<bool>> = vec![Vec::new()];
                for can in &options {
                    combinations = combinations
                        .iter()
                        .flat_map(|c| can.iter().map(move |&v| c.iter().copied().chain([v]).collect()))
                        .collect();
                }
                for held in combinations {
                    let next = State { held, both: both.clone(), ..settled.state.clone() };
                    if next == settled.state {
                        all.insert(Outcome { state: Some(next), views: views.clone() });
                    } else {
                        self.phases(&next, now, outside, views, all);
                    }
                }
                views.pop();
            }
        }
    }

    /// A closed latch whose clear and preset were released together holds either.
    fn latches_released(&self, settled: Settled, before: &[bool], outside: &[bool]) -> Vec<Settled> {
        let now = &settled.values;
        let unknown: Vec<usize> = self.programs[0]
            .elements
            .iter()
            .enumerate()
            .filter(|(e, i)| {
                let joint = before[i.clear] && before[i.preset];
                self.live[*e] && !i.is_register && joint && !now[i.clear] && !now[i.preset] && !now[i.clock]
            })
            .map(|(e, _)| e)
            .collect();
        if unknown.is_empty() {
            return vec![settled];
        }
        let mut all = Vec::new();
        for code in 0..1u64 << unknown.len() {
            let mut s = settled.state.clone();
            for (k, &e) in unknown.iter().enumerate() {
                s.held[e] = (code >> k) & 1 == 1;
            }
            all.extend(self.settle(&s, outside).into_iter().flatten());
        }
        all
    }
}
