//! Compaction: drops vectors without which the others still find the same faults, the last ones first, within a budget
//! of work.
use crate::vectors::flips::campaign::{Campaign, Tally};
use crate::vectors::flips::flip::Flip;
use crate::vectors::socket::bank::Bank;
use crate::vectors::socket::rules::{Rules, Step};
use gluewright_kernel::limit::Limit;

/// How many vectors may be run again in all, sixty-four devices at a time, so that a long list costs no more than a
/// short one.
const BUDGET: usize = 25_000;

pub(in crate::vectors) struct Compaction<'a> {
    pub(in crate::vectors) good: &'a Bank,
    pub(in crate::vectors) rules: &'a Rules,
    pub(in crate::vectors) flips: &'a [Flip],
    pub(in crate::vectors) by_starts: &'a [usize],
    pub(in crate::vectors) floating: bool,
    pub(in crate::vectors) limit: Limit,
}

/// What came of leaving a vector out.
enum Without {
    /// Less is found, or a rule is broken.
    Less,
    /// Everything is found; where all stand after each further vector, until they stand as they did with it.
    All(Vec<Campaign>),
}

impl Compaction<'_> {
    /// Leaves out what it can, the last vectors first. `wanted` is what must still be found.
    pub(in crate::vectors) fn run(&self, mut steps: Vec<Step>, wanted: Tally) -> Vec<Step> {
        let fresh = Campaign::new(self.good, self.flips, self.by_starts);
        // a flip that is still open behind the last vector that finds it is hardly found later: no need to look on
        let mut due: Vec<Vec<usize>> = vec![Vec::new(); steps.len()];
        for (flip, last) in fresh.clone().lasts(self.good, &steps, self.floating).into_iter().enumerate() {
            last.and_then(|last| due.get_mut(last)).into_iter().for_each(|due| due.push(flip));
        }
        let mut before = vec![fresh];
        for step in &steps {
            let Some(mut next) = before.last().cloned() else { return steps };
            next.step(self.good, self.flips, step, self.floating);
            before.push(next);
        }
        let mut budget = BUDGET;
        for at in (0..steps.len()).rev() {
            if budget == 0 || self.limit.over().is_some() {
                break;
            }
            let Without::All(after) = self.without(at, &steps, &before, &due, wanted, &mut budget) else { continue };
            steps.remove(at);
            due.remove(at);
            before.remove(at + 1);
            before.iter_mut().skip(at + 1).zip(after).for_each(|(slot, stands)| *slot = stands);
        }
        steps
    }

    /// Runs all vectors but this one, from it on, for as long as it can still turn out well.
    fn without(
        &self,
        at: usize,
        steps: &[Step],
        before: &[Campaign],
        due: &[Vec<usize>],
        wanted: Tally,
        budget: &mut usize,
    ) -> Without {
        let Some(start) = before.get(at) else { return Without::Less };
        let mut last = at.checked_sub(1).and_then(|last| steps.get(last));
        let is_lost = |k: usize, campaign: &Campaign| {
            due.get(k).is_some_and(|due| due.iter().any(|&flip| campaign.found.get(flip) == Some(&false)))
        };
        if is_lost(at, start) {
            return Without::Less;
        }
        let mut campaign = start.clone();
        let mut after = Vec::new();
        for (k, step) in steps.iter().enumerate().skip(at + 1) {
            if !self.rules.allow(last, step) {
                return Without::Less;
            }
            let outside = step.outside();
            let mut state = campaign.good.clone();
            let on = self.good.apply(&mut state, &outside, step.pulse);
            if Rules::fights(self.good, &campaign.good, &outside, &on) != 0 {
                return Without::Less;
            }
            *budget = budget.saturating_sub(campaign.cost());
            campaign.step(self.good, self.flips, step, self.floating);
            if is_lost(k, &campaign) || *budget == 0 {
                return Without::Less;
            }
            if before.get(k + 1).is_some_and(|with| campaign.stands_like(with)) {
                return Without::All(after);
            }
            after.push(campaign.clone());
            last = Some(step);
        }
        if campaign.tally().covers(wanted) { Without::All(after) } else { Without::Less }
    }
}
