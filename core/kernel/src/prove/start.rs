//! Power-up: does every start of the replacement have a start of the original to match?
use crate::machine::{Freedom, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::cluster::Cluster;
use super::liar;
use super::matching::{Bit, Class};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};
use super::world::apart;

/// The outcome for the starts.
pub(super) enum Starts {
    /// Each has one.
    Matched,
    /// Some may have none, or the replacement may not come to rest.
    Open(&'static str),
    /// The solver gave up.
    GaveUp(String),
}

/// For each cell of the original, the cell of the replacement that it equals or opposes, or a fixed value.
pub(super) fn followed(pair: &Pair, classes: &[Class], spare: &[bool]) -> Vec<Result<(usize, bool), bool>> {
    let mut of: Vec<Result<(usize, bool), bool>> =
        (0..pair.machines[ORIGINAL].cells().len()).map(|c| Err(spare.get(c).copied().unwrap_or(false))).collect();
    for class in classes {
        let lead = class.bits.iter().find(|((s, _), _)| *s == REPLACEMENT);
        for &((s, c), opposite) in &class.bits {
            if s != ORIGINAL {
                continue;
            }
            if class.is_constant {
                of[c] = Err(opposite);
            } else if let Some(&((_, r), other)) = lead {
                of[c] = Ok((r, opposite ^ other));
            }
        }
    }
    of
}

/// The start of the original that goes with what the replacement's cells hold: bit by bit where bits correspond, by the
/// combinations that they take where they stand in another code, and `spare` for bits that match nothing.
pub(super) fn original(
    terms: &mut Terms,
    pair: &Pair,
    (classes, clusters): (&[Class], &[Cluster]),
    spare: &[bool],
    replacement: &[Term],
) -> Vec<Term> {
    let cells = pair.machines[ORIGINAL].cells();
    let held = |c: usize| replacement.get(c).copied().unwrap_or(Term::FALSE);
    let mut coded = vec![None; cells.len()];
    for cluster in clusters {
        for (lead, value) in cluster.start(terms, held) {
            // the whole class of the bit
            let class = classes.iter().find(|c| c.bits.iter().any(|&(bit, _)| bit == (ORIGINAL, lead)));
            let bits = class.map_or(&[][..], |c| &c.bits);
            let turned = bits.iter().any(|&(bit, opposite)| bit == (ORIGINAL, lead) && opposite);
            for &((_, c), opposite) in bits {
                if let Some(slot) = coded.get_mut(c) {
                    *slot = Some(value.inverted_if(opposite != turned));
                }
            }
        }
    }
    followed(pair, classes, spare)
        .iter()
        .zip(cells.iter().zip(coded))
        .map(|(m, (cell, coded))| match (*m, cell.start) {
            (_, Some(v)) => Term::constant(v),
            (Ok((c, inverted)), None) => held(c).inverted_if(inverted),
            (Err(v), None) => coded.unwrap_or(Term::constant(v)),
        })
        .collect()
}

/// What is to hold at power-up.
pub(super) struct Power {
    pub(super) terms: Terms,
    /// The levels of the contacts, and what the replacement's cells hold before it comes to rest.
    pub(super) levels: Vec<Term>,
    pub(super) cells: Vec<Term>,
    pub(super) allowed: Term,
    /// What the cells of both sides hold once they have come to rest.
    pub(super) held: [Vec<Term>; 2],
    /// Where a side does not come to rest.
    pub(super) unsettled: [Term; 2],
    /// Classes whose bits may come apart, and where they do.
    pub(super) apart: Vec<(usize, Term)>,
    /// Clusters that may have none of their combinations, and where they do.
    pub(super) outside: Vec<(usize, Term)>,
}

/// The starts: for all levels that are allowed and all starts of the replacement, the original is started in the state
/// that the classes give it (and `spare` for bits that match nothing).
pub(super) fn power(pair: &Pair, classes: &[Class], clusters: &[Cluster], spare: &[bool]) -> Power {
    let mut terms = Terms::new();
    let levels: Vec<Term> =
        pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
    let fixed = pair.starts(REPLACEMENT, Some, |_| None);
    let cells: Vec<Term> = fixed
        .into_iter()
        .map(|f: Option<bool>| match f {
            Some(v) => Term::constant(v),
            None => terms.variable(),
        })
        .collect();
    let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
    let allowed = pair.allowed(&mut algebra, &levels);
    let woken = pair.awaken(&mut algebra, REPLACEMENT, &levels, &cells);
    let rested = pair.machines[REPLACEMENT].held(&woken.point);
    let machine = &pair.machines[ORIGINAL];
    let start = original(&mut terms, pair, (classes, clusters), spare, &rested);
    let mut algebra = Symbolic::new(&mut terms, Freedom::Usual);
    let woken_original = pair.awaken(&mut algebra, ORIGINAL, &levels, &start);
    let held = [machine.held(&woken_original.point), rested];
    let apart = apart(&mut terms, classes.iter().enumerate(), |(s, c)| held[s].get(c).copied().unwrap_or(Term::FALSE));
    let mut outside = Vec::new();
    for (i, cluster) in clusters.iter().enumerate() {
        let at = |&((s, c), opposite): &(Bit, bool)| held[s].get(c).map_or(Term::FALSE, |t| t.inverted_if(opposite));
        let values: Vec<Term> = cluster.bits.iter().map(at).collect();
        let holds = cluster.holds(&mut terms, &values);
        if holds != Term::TRUE {
            outside.push((i, !holds));
        }
    }
    Power {
        terms,
        levels,
        cells,
        allowed,
        held,
        unsettled: [woken_original.unsettled, woken.unsettled],
        apart,
        outside,
    }
}

/// Checks the starts.
pub(super) fn check(pair: &Pair, classes: &[Class], clusters: &[Cluster], spare: &[bool], effort: Effort) -> Starts {
    let mut power = power(pair, classes, clusters, spare);
    let bad =
        power.apart.iter().chain(&power.outside).fold(power.unsettled[ORIGINAL], |bad, a| power.terms.or(bad, a.1));
    let mut solver = Solver::new(effort);
    match liar::heard(solver.satisfy(&power.terms, &[power.allowed, power.unsettled[REPLACEMENT]])) {
        Answer::No => {}
        Answer::Yes(_) => return Starts::Open("the replacement may not come to rest at power-up"),
        Answer::Unknown(why) => return Starts::GaveUp(why),
    }
    match liar::heard(solver.satisfy(&power.terms, &[power.allowed, bad])) {
        Answer::No => Starts::Matched,
        Answer::Yes(_) => Starts::Open("a start of the replacement has no start of the original in the matching"),
        Answer::Unknown(why) => Starts::GaveUp(why),
    }
}

/// Whether the original comes to rest from every start and all levels that are allowed; `None` if the solver gave up. A
/// start that doesn't rest is no failure: the match just never chooses it.
pub(super) fn original_rests(pair: &Pair, effort: Effort) -> Option<bool> {
    let mut terms = Terms::new();
    let levels: Vec<Term> =
        pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
    let fixed = pair.starts(ORIGINAL, Some, |_| None);
    let cells: Vec<Term> =
        fixed.into_iter().map(|f: Option<bool>| f.map_or_else(|| terms.variable(), Term::constant)).collect();
    let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
    let allowed = pair.allowed(&mut algebra, &levels);
    let woken = pair.awaken(&mut algebra, ORIGINAL, &levels, &cells);
    match Solver::new(effort).satisfy(&terms, &[allowed, woken.unsettled]) {
        Answer::No => Some(true),
        Answer::Yes(_) => Some(false),
        Answer::Unknown(_) => None,
    }
}
