//! What is not settled yet, and the fewest readings that would settle it, in an order that walks over the board.
use std::collections::{BTreeMap, BTreeSet};

use super::claims::{Claims, Is};
use super::judge::{Judged, Seen, kept_apart, swept};
use super::neighbours::Beside;
use super::readings::{Point, To};
use serde::Serialize;

/// Why a reading is to be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Reason {
    /// Readings contradict each other, and this one decides.
    Contradiction,
    /// A supply pin should be joined to its rail.
    Supply,
    /// Nobody has measured this pin.
    Pin,
    /// Two points that are no neighbours were found apart, and too few readings confirm it.
    Once,
    /// Nothing drives this net.
    NoSource,
    /// Neighbours may be bridged.
    Neighbours,
}

/// A reading to make.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Next {
    /// Hold one probe here.
    pub from: Point,
    /// And the other there.
    pub to: To,
    /// Why.
    pub reason: Reason,
}

/// What is not settled.
#[derive(Clone, Debug, Default)]
pub(super) struct Unsettled {
    pub(super) pins: Vec<usize>,
    /// Neighbours that may be one net.
    pub(super) pairs: Vec<(usize, usize)>,
    pub(super) next: Vec<Next>,
    /// Groups that a sweep has found to be whole.
    pub(super) swept: BTreeSet<usize>,
    /// Pairs of groups that nobody measured against each other.
    pub(super) trusted: usize,
}

impl Unsettled {
    pub(super) fn of(seen: &Seen, claims: &Claims<'_>, beside: &Beside, judged: &Judged) -> Unsettled {
        let apart = kept_apart(seen, &judged.groups, &judged.overruled_pairs);
        let swept = swept(seen, &judged.groups, &judged.overruled_sweeps);
        let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        (0..seen.points.len()).for_each(|p| members.entry(judged.group(p)).or_default().push(p));
        let is_open =
            |a: usize, b: usize| apart.contains_key(&(a.min(b), a.max(b))) || swept.contains(&a) || swept.contains(&b);
        let pins: Vec<usize> = (0..seen.points.len())
            .filter(|&p| claims.what(p) != Is::Nothing && matches!(seen.points.get(p), Some(Point::Pin { .. })))
            .filter(|&p| {
                members.get(&judged.group(p)).is_some_and(|m| m.len() == 1) && !swept.contains(&judged.group(p))
            })
            .collect();
        let pairs: Vec<(usize, usize)> = beside
            .all()
            .filter(|&(a, b)| judged.group(a) != judged.group(b) && !is_open(judged.group(a), judged.group(b)))
            .collect();
        let mut unsettled = Unsettled { pins, pairs, ..Unsettled::default() };
        let walk = Walk { seen, judged, members: &members };
        unsettled.next = walk.stage(claims, beside, &swept, &unsettled, &apart);
        let without = members.keys().filter(|g| !swept.contains(g)).count();
        let measured = apart.keys().filter(|(a, b)| !swept.contains(a) && !swept.contains(b)).count();
        unsettled.trusted = (without * without.saturating_sub(1) / 2).saturating_sub(measured);
        unsettled.swept = swept;
        unsettled
    }
}

/// Readings and sweeps needed to confirm that two points are apart: two may both be wrong.
const BORNE_OUT: usize = 3;

struct Walk<'s> {
    seen: &'s Seen,
    judged: &'s Judged,
    members: &'s BTreeMap<usize, Vec<usize>>,
}

impl Walk<'_> {
    /// The readings of the first kind of which any is needed. Later ones may be superfluous after them.
    fn stage(
        &self,
        claims: &Claims<'_>,
        beside: &Beside,
        swept: &BTreeSet<usize>,
        unsettled: &Unsettled,
        apart: &BTreeMap<(usize, usize), usize>,
    ) -> Vec<Next> {
        let again = self.judged.open.iter().map(|open| self.pair(open.again, Reason::Contradiction)).collect();
        let (supplies, rest) = self.supplies(claims, &unsettled.pins);
        let pins = rest.iter().map(|&p| self.sweep(p, Reason::Pin)).collect();
        let once = self.once(beside, swept, apart);
        let without: Vec<usize> = self.without_source(claims, swept);
        let sources = without.iter().filter_map(|g| Some(self.sweep(*self.members.get(g)?.first()?, Reason::NoSource)));
        let stages = [again, supplies, pins, once, sources.collect(), self.cover(&unsettled.pairs)];
        stages.into_iter().find(|stage: &Vec<(usize, Next)>| !stage.is_empty()).map_or_else(Vec::new, |mut stage| {
            stage.sort_by_key(|(at, _)| *at);
            stage.dedup_by(|a, b| a.1 == b.1);
            stage.into_iter().map(|(_, next)| next).collect()
        })
    }

    fn point(&self, at: usize) -> Point {
        self.seen.points.get(at).cloned().unwrap_or(Point::Name(String::new()))
    }

    fn pair(&self, (a, b): (usize, usize), reason: Reason) -> (usize, Next) {
        (a.min(b), Next { from: self.point(a.min(b)), to: To::Point(self.point(a.max(b))), reason })
    }

    fn sweep(&self, at: usize, reason: Reason) -> (usize, Next) {
        (at, Next { from: self.point(at), to: To::Others, reason })
    }

    /// Supply pins that nobody measured, each to the nearest point of its rail before it; and the other pins.
    fn supplies(&self, claims: &Claims<'_>, pins: &[usize]) -> (Vec<(usize, Next)>, Vec<usize>) {
        let (mut supplies, mut rest) = (Vec::new(), Vec::new());
        for &pin in pins {
            let Is::Supply(high) = claims.what(pin) else {
                rest.push(pin);
                continue;
            };
            let same = (0..self.seen.points.len()).filter(|&p| p != pin && claims.what(p) == Is::Supply(high));
            // the first one of its rail waits for the next one
            match same.min_by_key(|&p| (p > pin, p.abs_diff(pin))) {
                Some(other) if other < pin || !pins.contains(&other) => {
                    supplies.push(self.pair((other, pin), Reason::Supply));
                }
                Some(_) => {}
                None => rest.push(pin),
            }
        }
        (supplies, rest)
    }

    /// Points that are no neighbours, found apart by readings that too few others confirm.
    fn once(
        &self,
        beside: &Beside,
        swept: &BTreeSet<usize>,
        apart: &BTreeMap<(usize, usize), usize>,
    ) -> Vec<(usize, Next)> {
        let mut all = Vec::new();
        for pair in self.seen.pairs.iter().filter(|p| p.weight() < 0) {
            let (a, b) = (self.judged.group(pair.ends.0), self.judged.group(pair.ends.1));
            let is_known = a == b || beside.are(pair.ends.0, pair.ends.1);
            let sweeps = usize::from(swept.contains(&a)) + usize::from(swept.contains(&b));
            if !is_known && apart.get(&(a.min(b), a.max(b))).is_some_and(|&times| times + sweeps < BORNE_OUT) {
                all.push(self.pair(pair.ends, Reason::Once));
            }
        }
        all
    }

    /// Groups of pins that only read.
    fn without_source(&self, claims: &Claims<'_>, swept: &BTreeSet<usize>) -> Vec<usize> {
        let reads = |p: &usize| matches!(claims.what(*p), Is::Input | Is::Nothing);
        let all = self
            .members
            .iter()
            .filter(|(group, points)| !swept.contains(group) && points.len() > 1 && points.iter().all(reads));
        all.map(|(&group, _)| group).collect()
    }

    /// Few readings that part all of these neighbours: a sweep settles every neighbour of a group, so the groups to sweep
    /// cover the pairs (a vertex cover: the neighbour of a leaf first, then whatever has most).
    fn cover(&self, pairs: &[(usize, usize)]) -> Vec<(usize, Next)> {
        let mut open: BTreeMap<usize, BTreeMap<usize, (usize, usize)>> = BTreeMap::new();
        for &(a, b) in pairs {
            let (of_a, of_b) = (self.judged.group(a), self.judged.group(b));
            open.entry(of_a).or_default().entry(of_b).or_insert((a, b));
            open.entry(of_b).or_default().entry(of_a).or_insert((a, b));
        }
        let mut all = Vec::new();
        loop {
            open.retain(|_, others| !others.is_empty());
            let leaf = open.values().find(|others| others.len() == 1).and_then(|others| others.keys().next().copied());
            let Some(group) = leaf.or_else(|| open.iter().max_by_key(|(_, others)| others.len()).map(|(&g, _)| g))
            else {
                return all;
            };
            let Some(others) = open.remove(&group) else { return all };
            for other in others.keys() {
                if let Some(of_other) = open.get_mut(other) {
                    of_other.remove(&group);
                }
            }
            match (others.len(), others.values().next()) {
                (1, Some(&ends)) => all.push(self.pair(ends, Reason::Neighbours)),
                _ => all.extend(
                    self.members.get(&group).and_then(|m| m.first()).map(|&p| self.sweep(p, Reason::Neighbours)),
                ),
            }
        }
    }
}
