//! Which readings contradict each other, which of them the others outweigh, and what to measure again.
//!
//! Points are vertices. A pair that was read as joined more often than as apart is an edge, and weighs as much as it was read
//! more often; the other way round it keeps its points apart. A reading that keeps two points apart which edges join is
//! contradicted by every edge that alone joins them (a bridge), or, where none does, by the least cut between the two
//! (Ford and Fulkerson, "Maximal flow through a network", 1956). What leaves the least against it stays.
use std::collections::{BTreeMap, BTreeSet, VecDeque};

use petgraph::algo::bridges::bridges;
use petgraph::algo::ford_fulkerson;
use petgraph::graph::{DiGraph, NodeIndex, UnGraph};
use petgraph::unionfind::UnionFind;

use super::claims::{Claim, Claims, Odd};
use super::readings::{Point, Readings, Shows, To};

/// What one reading weighs.
pub(super) const ONE: i64 = 1000;
/// Contradictions that are looked at in one round.
const MOST_VIOLATED: usize = 200;
/// Rounds of overruling.
const MOST_ROUNDS: usize = 200;
/// The largest group for which least cuts are computed where no single edge joins.
const LARGEST_CUT: usize = 400;

/// All points with numbers, and what was read between them.
pub(super) struct Seen {
    pub(super) points: Vec<Point>,
    pub(super) at: BTreeMap<Point, usize>,
    pub(super) pairs: Vec<Pair>,
    pub(super) sweeps: Vec<Sweep>,
}

/// All readings between two points.
#[derive(Clone, Debug, Default)]
pub(super) struct Pair {
    pub(super) ends: (usize, usize),
    /// Lines that say so.
    pub(super) joined: Vec<u64>,
    pub(super) apart: Vec<u64>,
}

impl Pair {
    /// Above nothing: joined; below: apart.
    pub(super) fn weight(&self) -> i64 {
        (self.joined.len() as i64 - self.apart.len() as i64) * ONE
    }

    /// It was read more than once.
    fn is_repeated(&self) -> bool {
        self.joined.len() + self.apart.len() > 1
    }
}

/// One probe was held on a point, and the other drawn over the board.
#[derive(Clone, Debug)]
pub(super) struct Sweep {
    pub(super) point: usize,
    pub(super) line: u64,
}

impl Seen {
    /// The points of all listed pins first, in the order of the list, then those with names.
    pub(super) fn of(readings: &Readings) -> Seen {
        let mut seen = Seen { points: Vec::new(), at: BTreeMap::new(), pairs: Vec::new(), sweeps: Vec::new() };
        for part in readings.parts.all() {
            for pin in &part.pins {
                seen.point(&Point::Pin { reference: part.reference.clone(), pin: pin.clone() });
            }
        }
        let mut at: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        for reading in &readings.all {
            let from = seen.point(&reading.from);
            let To::Point(to) = &reading.to else {
                seen.sweeps.push(Sweep { point: from, line: reading.line });
                continue;
            };
            let to = seen.point(to);
            let ends = (from.min(to), from.max(to));
            let place = *at.entry(ends).or_insert_with(|| {
                seen.pairs.push(Pair { ends, ..Pair::default() });
                seen.pairs.len() - 1
            });
            let Some(pair) = seen.pairs.get_mut(place) else { continue };
            let lines = if reading.shows == Shows::Joined { &mut pair.joined } else { &mut pair.apart };
            lines.push(reading.line);
        }
        seen
    }

    fn point(&mut self, point: &Point) -> usize {
        if let Some(&at) = self.at.get(point) {
            return at;
        }
        self.points.push(point.clone());
        self.at.insert(point.clone(), self.points.len() - 1);
        self.points.len() - 1
    }

    /// How many sweeps were made before this line: joints that one sweep has found are of the same time.
    pub(super) fn time(&self, line: u64) -> usize {
        self.sweeps.partition_point(|s| s.line < line)
    }
}

/// What keeps two points apart.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Keeps {
    /// Readings of this pair.
    Pair(usize),
    /// This sweep.
    Sweep(usize),
    /// The parts: what is joined there would be odd.
    Claim(Claim),
}

/// Two points that are kept apart and are joined all the same.
#[derive(Clone, Debug)]
struct Violated {
    ends: (usize, usize),
    keeps: Keeps,
    weight: i64,
    /// Edges that alone join them, in their order from the first point.
    bridges: Vec<usize>,
    /// The least cut between them, less what keeps them apart.
    gain: i64,
}

/// A contradiction that another reading has to settle.
#[derive(Clone, Debug)]
pub(super) struct Open {
    pub(super) keeps: Vec<(Keeps, (usize, usize))>,
    /// Pairs that join what is kept apart.
    pub(super) joins: Vec<usize>,
    /// What to measure.
    pub(super) again: (usize, usize),
}

/// What the readings come to.
pub(super) struct Judged {
    /// The group of each point.
    pub(super) groups: Vec<usize>,
    /// Pairs and sweeps that count for nothing, the others being against them.
    pub(super) overruled_pairs: BTreeSet<usize>,
    pub(super) overruled_sweeps: BTreeSet<usize>,
    /// Oddities that readings confirm.
    pub(super) confirmed: Vec<(Claim, (usize, usize))>,
    pub(super) open: Vec<Open>,
}

impl Judged {
    pub(super) fn group(&self, point: usize) -> usize {
        self.groups.get(point).copied().unwrap_or(point)
    }
}

/// The edges that count now.
pub(super) struct Joints {
    pub(super) groups: Vec<usize>,
    /// For each point its neighbours, with the pair.
    pub(super) of: Vec<Vec<(usize, usize)>>,
    pub(super) bridges: BTreeSet<usize>,
}

impl Joints {
    fn of(seen: &Seen, dropped: &BTreeSet<usize>) -> Joints {
        let count = seen.points.len();
        let mut union = UnionFind::<usize>::new(count);
        let mut graph = UnGraph::<(), usize>::with_capacity(count, seen.pairs.len());
        (0..count).for_each(|_| {
            graph.add_node(());
        });
        let mut of = vec![Vec::new(); count];
        for (i, pair) in seen.pairs.iter().enumerate().filter(|(i, p)| p.weight() > 0 && !dropped.contains(i)) {
            let (a, b) = pair.ends;
            union.union(a, b);
            graph.add_edge(NodeIndex::new(a), NodeIndex::new(b), i);
            for (from, to) in [(a, b), (b, a)] {
                if let Some(edges) = of.get_mut(from) {
                    edges.push((to, i));
                }
            }
        }
        let bridges = bridges(&graph).map(|edge| *edge.weight()).collect();
        Joints { groups: union.into_labeling(), of, bridges }
    }

    pub(super) fn group(&self, point: usize) -> usize {
        self.groups.get(point).copied().unwrap_or(point)
    }

    /// For each point of a group how one comes to it from `from`: point before, pair.
    fn from(&self, from: usize, allowed: impl Fn(usize) -> bool) -> BTreeMap<usize, (usize, usize)> {
        let mut before = BTreeMap::from([(from, (from, usize::MAX))]);
        let mut next = VecDeque::from([from]);
        while let Some(point) = next.pop_front() {
            for &(to, pair) in self.of.get(point).into_iter().flatten() {
                if allowed(pair) && !before.contains_key(&to) {
                    before.insert(to, (point, pair));
                    next.push_back(to);
                }
            }
        }
        before
    }

    /// The pairs on a way between two points, in order.
    fn way(&self, from: usize, to: usize) -> Vec<usize> {
        let before = self.from(from, |_| true);
        let mut way = Vec::new();
        let mut at = to;
        while at != from {
            let Some(&(previous, pair)) = before.get(&at) else { break };
            way.push(pair);
            at = previous;
        }
        way.reverse();
        way
    }

    /// The least that joins two points.
    fn least_cut(&self, seen: &Seen, (from, to): (usize, usize), bridges: &[usize]) -> i64 {
        let weight = |pair: &usize| seen.pairs.get(*pair).map_or(0, Pair::weight);
        let single = bridges.iter().map(weight).min();
        let group = self.group(from);
        let members: Vec<usize> = (0..self.groups.len()).filter(|&p| self.group(p) == group).collect();
        if members.len() > LARGEST_CUT || single.is_some_and(|w| w <= ONE) {
            return single.unwrap_or(2 * ONE);
        }
        let mut graph = DiGraph::<(), u64>::new();
        let nodes: BTreeMap<usize, NodeIndex> = members.iter().map(|&p| (p, graph.add_node(()))).collect();
        for &point in &members {
            for (other, pair) in self.of.get(point).into_iter().flatten() {
                if let (Some(&a), Some(&b)) = (nodes.get(&point), nodes.get(other)) {
                    graph.add_edge(a, b, weight(pair).unsigned_abs());
                }
            }
        }
        match (nodes.get(&from), nodes.get(&to)) {
            (Some(&from), Some(&to)) => ford_fulkerson(&graph, from, to).0.cast_signed(),
            _ => 0,
        }
    }
}

/// Weighs all readings against each other.
pub(super) fn judge(seen: &Seen, claims: &Claims<'_>) -> Judged {
    let (mut pairs, mut sweeps) = (BTreeSet::new(), BTreeSet::new());
    let mut confirmed: BTreeMap<(usize, usize), Claim> = BTreeMap::new();
    for _ in 0..MOST_ROUNDS {
        let joints = Joints::of(seen, &pairs);
        let violated = violated(seen, &joints, claims, (&pairs, &sweeps), &confirmed);
        let mut by_group: BTreeMap<usize, Vec<&Violated>> = BTreeMap::new();
        for v in &violated {
            by_group.entry(joints.group(v.ends.0)).or_default().push(v);
        }
        let mut dropped = false;
        for all in by_group.values() {
            dropped |= overrule(seen, all, &mut pairs, &mut sweeps, &mut confirmed);
        }
        if !dropped {
            let mut open: Vec<Open> = by_group.values().filter_map(|all| undecided(seen, &joints, all)).collect();
            open.extend(ties(seen, &joints, claims, &sweeps));
            return finish(joints, pairs, sweeps, confirmed, open);
        }
    }
    finish(Joints::of(seen, &pairs), pairs, sweeps, confirmed, Vec::new())
}

fn finish(
    joints: Joints,
    overruled_pairs: BTreeSet<usize>,
    overruled_sweeps: BTreeSet<usize>,
    confirmed: BTreeMap<(usize, usize), Claim>,
    open: Vec<Open>,
) -> Judged {
    let confirmed = confirmed.into_iter().map(|(ends, claim)| (claim, ends)).collect();
    Judged { groups: joints.groups, overruled_pairs, overruled_sweeps, confirmed, open }
}

/// All that is kept apart and joined.
fn violated(
    seen: &Seen,
    joints: &Joints,
    claims: &Claims<'_>,
    (dropped_pairs, dropped_sweeps): (&BTreeSet<usize>, &BTreeSet<usize>),
    confirmed: &BTreeMap<(usize, usize), Claim>,
) -> Vec<Violated> {
    let mut all = Vec::new();
    let mut add = |ends: (usize, usize), keeps: Keeps, weight: i64| {
        if all.len() >= MOST_VIOLATED {
            return;
        }
        let way = joints.way(ends.0, ends.1);
        let bridges: Vec<usize> = way.into_iter().filter(|pair| joints.bridges.contains(pair)).collect();
        let gain = joints.least_cut(seen, ends, &bridges) - weight;
        all.push(Violated { ends, keeps, weight, bridges, gain });
    };
    for (i, pair) in seen.pairs.iter().enumerate().filter(|(i, _)| !dropped_pairs.contains(i)) {
        if pair.weight() < 0 && joints.group(pair.ends.0) == joints.group(pair.ends.1) {
            add(pair.ends, Keeps::Pair(i), -pair.weight());
        }
    }
    for (i, sweep) in seen.sweeps.iter().enumerate().filter(|(i, _)| !dropped_sweeps.contains(i)) {
        for other in later(seen, joints, sweep) {
            add((sweep.point, other), Keeps::Sweep(i), ONE);
        }
    }
    for (ends, weight, claim) in claims.within(seen, joints) {
        if !confirmed.contains_key(&ends) {
            add(ends, Keeps::Claim(claim), weight);
        }
    }
    all
}

/// The first points behind joints that a sweep should have found and did not: they are of later rows.
fn later(seen: &Seen, joints: &Joints, sweep: &Sweep) -> Vec<usize> {
    let earlier = |pair: usize| seen.pairs.get(pair).is_some_and(|p| p.joined.iter().any(|&line| line < sweep.line));
    let known = joints.from(sweep.point, earlier);
    let all = joints.from(sweep.point, |_| true);
    let crossing = all.iter().filter(|(to, (before, _))| !known.contains_key(to) && known.contains_key(before));
    crossing.map(|(&to, _)| to).take(8).collect()
}

/// What each edge of a group has against it, less what it weighs: readings, and with `parts` what the parts say, which is no
/// more than one reading however many of them say it.
fn against(seen: &Seen, all: &[&Violated], parts: bool) -> BTreeMap<usize, i64> {
    let mut sums: BTreeMap<usize, (i64, i64)> = BTreeMap::new();
    for v in all {
        for &pair in &v.bridges {
            let sum = sums.entry(pair).or_default();
            match v.keeps {
                Keeps::Claim(_) => sum.1 += v.weight,
                Keeps::Pair(_) | Keeps::Sweep(_) => sum.0 += v.weight,
            }
        }
    }
    let weight = |pair: usize| seen.pairs.get(pair).map_or(0, Pair::weight);
    let sum = |(pair, (readings, claims)): (usize, (i64, i64))| {
        (pair, readings + if parts { claims.min(ONE) } else { 0 } - weight(pair))
    };
    sums.into_iter().map(sum).collect()
}

/// Drops what has more against it than for it: a pair only if it was measured again, so that nothing is overruled before a second
/// look; oddities once readings confirm them.
fn overrule(
    seen: &Seen,
    all: &[&Violated],
    pairs: &mut BTreeSet<usize>,
    sweeps: &mut BTreeSet<usize>,
    confirmed: &mut BTreeMap<(usize, usize), Claim>,
) -> bool {
    let was_repeated = |pair: &usize| seen.pairs.get(*pair).is_some_and(Pair::is_repeated);
    let edge = against(seen, all, false).into_iter().filter(|(pair, gain)| *gain >= ONE && was_repeated(pair));
    let edge = edge.max_by_key(|&(pair, gain)| (gain, std::cmp::Reverse(pair)));
    let is_settled = |v: &&&Violated| match &v.keeps {
        Keeps::Pair(i) => v.gain >= ONE && was_repeated(i),
        // one reading more may be as wrong as the first
        Keeps::Sweep(_) | Keeps::Claim(_) => v.gain >= 2 * ONE,
    };
    match (edge, all.iter().filter(is_settled).max_by_key(|v| v.gain)) {
        (edge, Some(v)) if edge.is_none_or(|e| v.gain >= e.1) => {
            match &v.keeps {
                Keeps::Pair(i) => pairs.insert(*i),
                Keeps::Sweep(i) => sweeps.insert(*i),
                // one that is confirmed makes the others of its kind likely
                Keeps::Claim(first) => {
                    for v in all {
                        if let Keeps::Claim(claim) = &v.keeps
                            && claim.odd == first.odd
                            && (claim.odd != Odd::Single || v.gain >= ONE)
                        {
                            confirmed.insert(v.ends, claim.clone());
                        }
                    }
                    true
                }
            };
            true
        }
        (Some((pair, _)), _) => pairs.insert(pair),
        (None, _) => false,
    }
}

/// The contradiction of a group, and what to measure.
fn undecided(seen: &Seen, joints: &Joints, all: &[&Violated]) -> Option<Open> {
    let first = all.iter().max_by_key(|v| (v.gain, !matches!(v.keeps, Keeps::Claim(_))))?;
    let sums = against(seen, all, true);
    let most = sums.values().max().copied().unwrap_or(i64::MIN);
    let suspects: BTreeSet<usize> = sums.iter().filter(|&(_, &sum)| sum == most).map(|(&pair, _)| pair).collect();
    let is_claim = matches!(first.keeps, Keeps::Claim(_));
    let again = if first.gain >= most && !(is_claim && suspects.len() == 1) {
        first.ends
    } else {
        let through = all.iter().find(|v| suspects.iter().all(|s| v.bridges.contains(s))).unwrap_or(first);
        let mut along = through.bridges.iter().filter(|pair| suspects.contains(pair));
        let only = along.clone().count() <= 1;
        let middle = if only { along.next() } else { along.nth(suspects.len() / 2) };
        let pair = seen.pairs.get(*middle.or(suspects.first())?)?;
        if only { pair.ends } else { (through.ends.0, near(joints, through.ends.0, pair.ends)) }
    };
    let mut joins: Vec<usize> = all.iter().flat_map(|v| v.bridges.iter().copied()).collect();
    if joins.is_empty() {
        joins = joints.way(first.ends.0, first.ends.1);
    }
    joins.sort_unstable();
    joins.dedup();
    Some(Open { keeps: all.iter().map(|v| (v.keeps.clone(), v.ends)).collect(), joins, again })
}

/// The end of a pair to which one comes first.
fn near(joints: &Joints, from: usize, (a, b): (usize, usize)) -> usize {
    let before = joints.from(from, |_| true);
    if before.get(&b).is_some_and(|&(previous, _)| previous == a) { a } else { b }
}

/// Pairs that were read both ways as often, and about which nothing else says anything.
fn ties(seen: &Seen, joints: &Joints, claims: &Claims<'_>, dropped_sweeps: &BTreeSet<usize>) -> Vec<Open> {
    let apart = kept_apart(seen, joints.groups.as_slice(), &BTreeSet::new());
    // a sweep that was made after the joint was read knew of it
    let missed = |pair: &Pair, (a, b): (usize, usize)| {
        let good = seen.sweeps.iter().enumerate().filter(|(i, _)| !dropped_sweeps.contains(i));
        let first = pair.joined.iter().min().copied().unwrap_or(0);
        good.filter(|(_, s)| [a, b].contains(&joints.group(s.point)) && s.line < first).count()
    };
    let mut all = Vec::new();
    for (i, pair) in seen.pairs.iter().enumerate().filter(|(_, p)| p.weight() == 0) {
        let (a, b) = (joints.group(pair.ends.0), joints.group(pair.ends.1));
        // one reading more against it may be as wrong as this one
        let is_apart = apart.get(&(a.min(b), a.max(b))).copied().unwrap_or(0) + missed(pair, (a, b)) > 1;
        if a != b && !is_apart && !claims.part(seen, joints, (a, b)) {
            all.push(Open { keeps: vec![(Keeps::Pair(i), pair.ends)], joins: vec![i], again: pair.ends });
        }
    }
    all
}

/// Groups that readings keep apart, with how often that was read.
pub(super) fn kept_apart(
    seen: &Seen,
    groups: &[usize],
    overruled: &BTreeSet<usize>,
) -> BTreeMap<(usize, usize), usize> {
    let mut all = BTreeMap::new();
    for (_, pair) in seen.pairs.iter().enumerate().filter(|(i, p)| p.weight() < 0 && !overruled.contains(i)) {
        let [a, b] = [pair.ends.0, pair.ends.1].map(|p| groups.get(p).copied().unwrap_or(p));
        if a != b {
            *all.entry((a.min(b), a.max(b))).or_default() += pair.apart.len() - pair.joined.len();
        }
    }
    all
}

/// Groups of which a sweep has found all.
pub(super) fn swept(seen: &Seen, groups: &[usize], overruled: &BTreeSet<usize>) -> BTreeSet<usize> {
    let good = seen.sweeps.iter().enumerate().filter(|(i, _)| !overruled.contains(i));
    good.map(|(_, sweep)| groups.get(sweep.point).copied().unwrap_or(sweep.point)).collect()
}
