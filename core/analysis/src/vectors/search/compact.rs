//! Fewer vectors: those without which everything is found all the same are left out.
use crate::vectors::flips::campaign::{Campaign, Tally};
use crate::vectors::flips::flip::Flip;
use crate::vectors::socket::bank::Bank;
use crate::vectors::socket::rules::{Rules, Step};
use gluewright_kernel::limit::Limit;

/// How many vectors may be run again in all, sixty-four devices at a time, so that a long list costs no more than a
/// short one.
const BUDGET: usize = 100_000;

pub(in crate::vectors) struct Compaction<'a> {
    pub(in crate::vectors) good: &'a Bank,
    pub(in crate::vectors) rules: &'a Rules,
    pub(in crate::vectors) flips: &'a [Flip],
    pub(in crate::vectors) by_starts: &'a [usize],
    pub(in crate::vectors) floating: bool,
    pub(in crate::vectors) limit: Limit,
}

impl Compaction<'_> {
    /// Leaves out what it can, the last vectors first. `wanted` is what must still be found.
    pub(in crate::vectors) fn run(&self, mut steps: Vec<Step>, wanted: Tally) -> Vec<Step> {
        let mut before = vec![Campaign::new(self.good, self.flips, self.by_starts)];
        for step in &steps {
            let Some(mut next) = before.last().cloned() else { return steps };
            next.step(self.good, self.flips, step, self.floating);
            before.push(next);
        }
        let mut budget = BUDGET;
        for at in (0..steps.len()).rev() {
            let Some(from) = before.get(at) else { break };
            let cost = (steps.len() - at) * from.cost();
            if budget < cost || self.limit.over().is_some() {
                break;
            }
            let (kept, rest) = (steps.get(..at).unwrap_or_default(), steps.get(at + 1..).unwrap_or_default());
            budget -= cost;
            if self.finds(from.clone(), kept.last(), rest, wanted) {
                steps.remove(at);
            }
        }
        steps
    }

    /// Whether these vectors keep the rules from here on and find enough.
    fn finds<'s>(
        &self,
        mut campaign: Campaign,
        mut before: Option<&'s Step>,
        steps: &'s [Step],
        wanted: Tally,
    ) -> bool {
        for step in steps {
            if !self.rules.allow(before, step) {
                return false;
            }
            let outside = step.outside();
            let mut state = campaign.good.clone();
            let on = self.good.apply(&mut state, &outside, step.pulse);
            if Rules::fights(self.good, &campaign.good, &outside, &on) != 0 {
                return false;
            }
            campaign.step(self.good, self.flips, step, self.floating);
            before = Some(step);
        }
        campaign.tally().covers(wanted)
    }
}
