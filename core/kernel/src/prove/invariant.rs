//! Invariants over unmatched registers: clusters of bits in different codes, and the combinations that they take together.
use std::collections::{BTreeMap, BTreeSet};

use crate::terms::{Term, Terms};

use super::context::Context;
use super::matching::{Bit, Class};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};

/// A cluster of more bits is not looked at.
const WIDEST: usize = 48;

/// Classes whose bits stand on one side only and depend on each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cluster {
    /// The classes, by their number.
    pub(super) classes: Vec<usize>,
    /// A bit of each, and whether it is opposite to the class's value.
    pub(super) bits: Vec<(Bit, bool)>,
    /// The combinations of the classes' values, bit by bit in this order; nothing if any may occur.
    pub(super) points: Option<BTreeSet<u64>>,
}

impl Cluster {
    /// The clusters of a matching: bits are in one if the next value of one depends on the other, or if both decide whether
    /// the sides differ. `None` if one is too wide, or there is none.
    pub(super) fn find(pair: &Pair, classes: &[Class]) -> Option<Vec<Cluster>> {
        let one_side = |c: &Class| {
            let first = c.bits.first().map(|b| b.0.0);
            !c.is_constant && c.bits.iter().all(|b| Some(b.0.0) == first)
        };
        let loose: Vec<usize> = (0..classes.len()).filter(|&i| one_side(&classes[i])).collect();
        if loose.is_empty() {
            return None;
        }
        let mut context = Context::new(pair, classes);
        let of: BTreeMap<usize, usize> =
            loose.iter().enumerate().map(|(k, &i)| (context.values[i].node(), k)).collect();
        let variable: BTreeMap<u32, usize> = of
            .iter()
            .flat_map(|(&node, &k)| {
                let term = loose.get(k).and_then(|&i| context.values.get(i)).filter(|t| t.node() == node);
                term.map(|&t| context.terms.support(t)).unwrap_or_default().into_iter().map(move |v| (v, k))
            })
            .collect();
        let mut to: Vec<usize> = (0..loose.len()).collect();
        let mut join = |terms: &Terms, with: Option<usize>, term: Term| {
            let mut all: Vec<usize> =
                terms.support(term).into_iter().filter_map(|v| variable.get(&v).copied()).collect();
            all.extend(with);
            let roots: Vec<usize> = all.into_iter().map(|k| to[k]).collect();
            if let Some(&least) = roots.iter().min() {
                for t in &mut to {
                    if roots.contains(t) {
                        *t = least;
                    }
                }
            }
        };
        for &h in context.hypothesis.parts() {
            join(&context.terms, None, h);
        }
        for event in &pair.events {
            if pair.limit.over().is_some() {
                return None;
            }
            let case = context.case(pair, classes, event);
            for (k, &i) in loose.iter().enumerate() {
                let Some(&(bit, _)) = classes[i].bits.first() else { continue };
                let after = context.after(pair, &case, bit);
                join(&context.terms, Some(k), after);
            }
            let wrong = case.differ.iter().chain(&case.apart).map(|w| w.1).chain(case.unsettled);
            for term in wrong {
                join(&context.terms, None, term);
            }
        }
        let mut clusters: BTreeMap<usize, Cluster> = BTreeMap::new();
        for (k, &i) in loose.iter().enumerate() {
            let Some(&bit) = classes[i].bits.first() else { continue };
            let cluster = clusters.entry(to[k]).or_insert_with(|| Cluster {
                classes: Vec::new(),
                bits: Vec::new(),
                points: Some(BTreeSet::new()),
            });
            cluster.classes.push(i);
            cluster.bits.push(bit);
        }
        let clusters: Vec<Cluster> = clusters.into_values().collect();
        clusters.iter().all(|c| c.bits.len() <= WIDEST).then_some(clusters)
    }

    /// The combination of some values of cells.
    pub(super) fn point(&self, value: impl Fn(Bit) -> bool) -> u64 {
        self.bits.iter().enumerate().fold(0, |p, (k, &(bit, opposite))| p | (u64::from(value(bit) ^ opposite) << k))
    }

    /// True where the classes have one of the combinations; `values` are theirs, in order.
    pub(super) fn holds(&self, terms: &mut Terms, values: &[Term]) -> Term {
        match &self.points {
            None => Term::TRUE,
            Some(points) => {
                let points: Vec<u64> = points.iter().copied().collect();
                among(terms, &points, values)
            }
        }
    }

    /// What cells of the original must hold at power-up so that the whole is one of the combinations, given what cells of
    /// the replacement hold: a cell with its value.
    pub(super) fn start(&self, terms: &mut Terms, replacement: impl Fn(usize) -> Term) -> Vec<(usize, Term)> {
        let told = self.bits.iter().filter(|((side, _), _)| *side == REPLACEMENT);
        let values: Vec<Term> = told.map(|&((_, cell), opposite)| replacement(cell).inverted_if(opposite)).collect();
        self.high().into_iter().map(|(cell, high)| (cell, among(terms, &high, &values))).collect()
    }

    /// The cells of the original, each with what the replacement's classes hold together where it is to begin high: for each
    /// thing that they may hold, the first combination that goes with it tells.
    pub(super) fn high(&self) -> Vec<(usize, Vec<u64>)> {
        let Some(points) = &self.points else { return Vec::new() };
        let of = |side: usize| (0..self.bits.len()).filter(move |&k| self.bits[k].0.0 == side);
        let shown = |p: u64| of(REPLACEMENT).enumerate().fold(0, |s, (i, k)| s | (((p >> k) & 1) << i));
        let mut first: BTreeMap<u64, u64> = BTreeMap::new();
        for &p in points {
            first.entry(shown(p)).or_insert(p);
        }
        of(ORIGINAL)
            .map(|k| {
                let ((_, cell), opposite) = self.bits[k];
                let high = first.iter().filter(|(_, p)| ((*p >> k) & 1 == 1) != opposite);
                (cell, high.map(|(&shown, _)| shown).collect())
            })
            .collect()
    }
}

/// True where these values are one of the points, which stand in rising order: decided from the last bit to the first.
fn among(terms: &mut Terms, points: &[u64], values: &[Term]) -> Term {
    match (points, values) {
        ([], _) => Term::FALSE,
        (_, []) => Term::TRUE,
        (_, [lower @ .., last]) => {
            let k = lower.len();
            let (low, high) = points.split_at(points.partition_point(|p| (p >> k) & 1 == 0));
            let low = among(terms, low, lower);
            let stripped: Vec<u64> = high.iter().map(|p| p & !(1 << k)).collect();
            let high = among(terms, &stripped, lower);
            terms.choose(*last, high, low)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::Assignment;
    use proptest::prelude::*;

    proptest! {
        /// Membership against looking it up, for every value.
        #[test]
        fn membership_is_membership(points in prop::collection::btree_set(0u64..64, 0..20)) {
            let mut terms = Terms::new();
            let values: Vec<Term> = (0..6).map(|_| terms.variable()).collect();
            let bits = (0..6).map(|c| ((0, c), false)).collect();
            let cluster = Cluster { classes: (0..6).collect(), bits, points: Some(points.clone()) };
            let holds = cluster.holds(&mut terms, &values);
            for n in 0..64u64 {
                let at = Assignment::new(&terms, |v| (n >> v) & 1 == 1);
                prop_assert_eq!(at.value(holds), points.contains(&n));
                prop_assert_eq!(cluster.point(|(_, c)| (n >> c) & 1 == 1), n);
            }
        }
    }
}
