//! Induction where encodings differ: which combinations do the bits without a partner take, whatever the others hold? What
//! they take is an invariant, and the induction that could not close without it may close with it.
use crate::solver::{Answer, Effort, Solver};
use crate::terms::Assignment;

use super::candidates;
use super::context::Context;
use super::draw::Draw;
use super::invariant::Cluster;
use super::matching::{self, Class, Closed, Open, Relation};
use super::pair::Pair;

/// A cluster with more combinations may have any.
const MOST: usize = 1 << 12;

/// Combinations that the solver may add to those that were seen in drawn runs.
const ADDED: usize = 1 << 11;

/// The most times that the classes of the matching may split on the way.
const ROUNDS: usize = 64;

/// A matching with an invariant, and whether it closes the induction.
pub(super) struct Strengthened {
    pub(super) relation: Relation,
    pub(super) outcome: Result<Closed, Open>,
}

enum Grown {
    Closed,
    Split(Vec<Class>),
    Open(Open),
}

/// Looks for a matching with clusters that is inductive, from a pair of states that match. `None` if every bit has a
/// partner, so that there is nothing to strengthen with.
pub(super) fn strengthen(
    pair: &Pair,
    levels: &[u64],
    cells: &[Vec<u64>; 2],
    draw: &mut Draw,
    effort: Effort,
) -> Option<Strengthened> {
    let mut relation = Relation::of(candidates::guess(pair, levels, cells, draw));
    for _ in 0..ROUNDS {
        relation.clusters = Cluster::find(pair, &relation.classes)?;
        candidates::combinations(pair, levels, cells, draw, &mut relation.clusters, MOST);
        match grow(pair, &mut relation, effort) {
            Grown::Split(next) => relation.classes = next,
            Grown::Open(open) => return Some(Strengthened { relation, outcome: Err(open) }),
            Grown::Closed => {
                // closed by this search, then closed again by the usual induction
                let outcome = matching::close(pair, &mut relation, effort);
                return Some(Strengthened { relation, outcome });
            }
        }
    }
    let outcome = Err(Open::GaveUp("the matching falls apart again and again".to_owned()));
    Some(Strengthened { relation, outcome })
}

/// Adds combinations to which an event leads until there are no more.
fn grow(pair: &Pair, relation: &mut Relation, effort: Effort) -> Grown {
    let classes = relation.classes.clone();
    let mut context = Context::new(pair, &classes);
    context.assume(pair, relation);
    let mut solver = Solver::new(effort);
    let mut cases = Vec::with_capacity(pair.events.len());
    for event in &pair.events {
        if let Some(over) = pair.limit.over() {
            return Grown::Open(Open::GaveUp(over.to_string()));
        }
        cases.push(context.case(pair, &classes, event));
    }
    let mut added = 0;
    loop {
        let mut moved = false;
        for case in &cases {
            loop {
                let wrong = case.bad(&mut context.terms);
                let outside = context.outside(pair, case, &relation.clusters);
                let bad = context.terms.or(wrong, outside);
                let values = match context.ask(&mut solver, &[case.may, bad]) {
                    Answer::No => break,
                    Answer::Unknown(why) => return Grown::Open(Open::GaveUp(why)),
                    Answer::Yes(values) => values,
                };
                let at = Assignment::new(&context.terms, |v| values.get(v as usize).copied().unwrap_or(false));
                let mut grew = false;
                for cluster in &mut relation.clusters {
                    let point = cluster.point(|bit| at.value(context.after(pair, case, bit)));
                    let Some(points) = &mut cluster.points else { continue };
                    grew |= points.insert(point);
                    if points.len() > MOST {
                        cluster.points = None;
                    }
                }
                if grew {
                    added += 1;
                    if added > ADDED {
                        return Grown::Open(Open::GaveUp(
                            "too many combinations of bits in different codes".to_owned(),
                        ));
                    }
                    moved = true;
                    context.assume(pair, relation);
                    continue;
                }
                if let Some(split) = matching::split(&classes, |bit| at.value(context.after(pair, case, bit))) {
                    return Grown::Split(split);
                }
                if let Some(side) = (0..2).find(|&s| at.value(case.unsettled[s])) {
                    return Grown::Open(Open::Restless(side));
                }
                let contacts = case.differ.iter().filter(|(_, d)| at.value(*d)).map(|&(c, _)| c).collect();
                return Grown::Open(Open::Contacts(contacts));
            }
        }
        if !moved {
            return Grown::Closed;
        }
    }
}
