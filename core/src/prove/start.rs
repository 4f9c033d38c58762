//! Power-up: does every start of the replacement have a start of the original to match?
use crate::machine::{Freedom, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::matching::Class;
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

/// What is to hold at power-up.
pub(super) struct Power {
    pub(super) terms: Terms,
    /// The levels of the contacts, and what the replacement's cells hold before it comes to rest.
    pub(super) levels: Vec<Term>,
    pub(super) cells: Vec<Term>,
    pub(super) allowed: Term,
    /// Where a side does not come to rest.
    pub(super) unsettled: [Term; 2],
    /// Classes whose bits may come apart, and where they do.
    pub(super) apart: Vec<(usize, Term)>,
}

/// The starts: for all levels that are allowed and all starts of the replacement, the original is started in the state
/// that the classes give it (and `spare` for bits that match nothing).
pub(super) fn power(pair: &Pair, classes: &[Class], spare: &[bool]) -> Power {
    let mut terms = Terms::new();
    let levels: Vec<Term> =
        pair.contacts.iter().map(|c| if c.is_read { terms.variable() } else { Term::FALSE }).collect();
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
    let start: Vec<Term> = followed(pair, classes, spare)
        .iter()
        .zip(machine.cells())
        .map(|(m, cell)| match (*m, cell.start) {
            (_, Some(v)) => Term::constant(v),
            (Ok((c, inverted)), None) => rested[c].inverted_if(inverted),
            (Err(v), None) => Term::constant(v),
        })
        .collect();
    let mut algebra = Symbolic::new(&mut terms, Freedom::Usual);
    let original = pair.awaken(&mut algebra, ORIGINAL, &levels, &start);
    let held = [machine.held(&original.point), rested];
    let apart = apart(&mut terms, classes.iter().enumerate(), |(s, c)| held[s].get(c).copied().unwrap_or(Term::FALSE));
    Power { terms, levels, cells, allowed, unsettled: [original.unsettled, woken.unsettled], apart }
}

/// Checks the starts.
pub(super) fn check(pair: &Pair, classes: &[Class], spare: &[bool], effort: Effort) -> Starts {
    let mut power = power(pair, classes, spare);
    let bad = power.apart.iter().fold(power.unsettled[ORIGINAL], |bad, a| power.terms.or(bad, a.1));
    let mut solver = Solver::new(effort);
    match solver.satisfy(&power.terms, &[power.allowed, power.unsettled[REPLACEMENT]]) {
        Answer::No => {}
        Answer::Yes(_) => return Starts::Open("the replacement may not come to rest at power-up"),
        Answer::Unknown(why) => return Starts::GaveUp(why),
    }
    match solver.satisfy(&power.terms, &[power.allowed, bad]) {
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
        pair.contacts.iter().map(|c| if c.is_read { terms.variable() } else { Term::FALSE }).collect();
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
