//! A run that refutes, made easy to set up: no event that can be left out, registers cleared where that still shows it.
//! Events are left out in halves, quarters and so on (delta debugging: Zeller and Hildebrandt, 2002).
use crate::machine::Lanes;
use crate::solver::Effort;

use super::liar;
use super::pair::REPLACEMENT;
use super::run::{Explained, Run};

/// The most registers that are tried one by one where not all can be cleared.
const SINGLY: usize = 32;

impl Run {
    /// The same refutation with fewer events, unless none shorter is known to exist, and from registers that are cleared
    /// where it then differs at the same contacts: so a device begins that clears itself at power-up. If time runs out, the
    /// refutation as it was. `differs` says at which contacts a run differs.
    pub(super) fn simplified(self, is_shortest: bool, effort: Effort, differs: impl Fn(&Run) -> Vec<usize>) -> Run {
        if liar::is_lying() {
            return self;
        }
        let short = if is_shortest { self } else { self.without_needless(effort).begun_there(effort) };
        short.cleared(effort, differs)
    }

    fn refutes(
        &self,
        levels: Vec<bool>,
        cells: Vec<bool>,
        events: Vec<Vec<(usize, bool)>>,
        effort: Effort,
    ) -> Option<Run> {
        if self.pair.limit.over().is_some() || !self.board_does(&levels, &events) {
            return None;
        }
        let run = Run::record(&self.pair, levels, cells, events)?;
        matches!(run.explain(effort), Explained::Not).then_some(run)
    }

    /// Whether the board does these events one after the other, as far as that does not depend on what the card shows.
    fn board_does(&self, levels: &[bool], events: &[Vec<(usize, bool)>]) -> bool {
        let word = |b: bool| if b { u64::MAX } else { 0 };
        let mut now: Vec<u64> = levels.iter().map(|&b| word(b)).collect();
        self.pair.allowed(&mut Lanes::default(), &now) & 1 == 1
            && events.iter().all(|event| {
                let mut next = now.clone();
                for &(c, high) in event {
                    if let Some(level) = next.get_mut(c) {
                        *level = word(high);
                    }
                }
                // with contacts on which the board reacts, the record of the run looks at this
                let does =
                    !self.pair.answers.is_empty() || self.pair.may(&mut Lanes::default(), &now, &next, &[]) & 1 == 1;
                now = next;
                does
            })
    }

    /// With as many registers cleared as can be.
    fn cleared(self, effort: Effort, differs: impl Fn(&Run) -> Vec<usize>) -> Run {
        let all = self.pair.starts(REPLACEMENT, |v| v, |_| false);
        if all == self.cells {
            return self;
        }
        let where_it_did = differs(&self);
        let with = |of: &Run, cells: Vec<bool>| {
            of.refutes(of.levels.clone(), cells, of.events.clone(), effort)
                .filter(|run| run.events.len() == of.events.len() && differs(run) == where_it_did)
        };
        if let Some(run) = with(&self, all.clone()) {
            return run;
        }
        let high: Vec<usize> = (0..all.len()).filter(|&i| self.cells.get(i) != all.get(i)).collect();
        let mut best = self;
        for i in high.into_iter().take(SINGLY) {
            let mut cells = best.cells.clone();
            if let Some(cell) = cells.get_mut(i) {
                *cell = false;
            }
            if let Some(run) = with(&best, cells) {
                best = run;
            }
        }
        best
    }

    /// With contacts that begin where the run first moves them, so that the move can go.
    fn begun_there(self, effort: Effort) -> Run {
        let mut best = self;
        let mut at = 0;
        while at < best.events.len() {
            let first = |&(c, _): &(usize, bool)| !best.events.iter().take(at).flatten().any(|&(moved, _)| moved == c);
            let (begun, rest): (Vec<_>, Vec<_>) =
                best.events.get(at).cloned().unwrap_or_default().into_iter().partition(|change| first(change));
            let mut levels = best.levels.clone();
            for &(c, high) in &begun {
                if let Some(level) = levels.get_mut(c) {
                    *level = high;
                }
            }
            let mut events = best.events.clone();
            if let Some(event) = events.get_mut(at) {
                *event = rest;
            }
            let events = effective(&levels, events);
            let shorter = if begun.is_empty() || events.len() >= best.events.len() {
                None
            } else {
                best.refutes(levels, best.cells.clone(), events, effort)
            };
            match shorter {
                Some(run) => best = run,
                None => at += 1,
            }
        }
        best.shorten(effort)
    }

    /// Without the events that need not be there.
    fn without_needless(self, effort: Effort) -> Run {
        let mut best = self;
        let mut chunk = best.events.len() / 2;
        while chunk > 0 {
            let mut at = 0;
            let before = best.events.len();
            while at < best.events.len() {
                let end = (at + chunk).min(best.events.len());
                let kept =
                    best.events.iter().enumerate().filter(|(k, _)| !(at..end).contains(k)).map(|(_, e)| e.clone());
                let events = effective(&best.levels, kept.collect());
                match best.refutes(best.levels.clone(), best.cells.clone(), events, effort) {
                    Some(run) => best = run.shorten(effort),
                    None => at = end,
                }
            }
            // what could not go before may go now
            if chunk > 1 || best.events.len() == before {
                chunk /= 2;
            }
        }
        best
    }
}

/// The events without changes that change nothing, and without those that then hold none.
fn effective(levels: &[bool], events: Vec<Vec<(usize, bool)>>) -> Vec<Vec<(usize, bool)>> {
    let mut now = levels.to_vec();
    let mut kept = Vec::new();
    for mut event in events {
        event.retain(|&(c, high)| now.get_mut(c).is_some_and(|level| std::mem::replace(level, high) != high));
        if !event.is_empty() {
            kept.push(event);
        }
    }
    kept
}
