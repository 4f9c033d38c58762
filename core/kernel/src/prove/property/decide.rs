//! Whether something ever comes: short runs first, induction beside them, then an invariant, then longer runs.
use crate::machine::Limits;
use crate::prove::pair::Pair;
use crate::solver::Effort;

use super::bounded::{Bounded, Found, Stepped, Unrolled};
use super::frames::{Cube, Framed, frames};
use super::unroll::{Run, Subject, Wanted};

/// Steps over which induction is tried.
const STEPS: usize = 3;

/// Depth to which runs to something that is said to be reachable are searched before an invariant is looked for.
const FIRST: usize = 16;

/// What the search for an invariant found to be reachable is searched for this many times deeper.
const DEEPER: usize = 8;

/// Questions that may be asked for an invariant.
const QUESTIONS: usize = 12_000;

/// The most times that the rounds of a step are doubled before something counts as an oscillation.
const PATIENCE: usize = 4;

/// What closed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Because {
    /// Induction over this many steps.
    Steps(usize),
    /// An invariant.
    Invariant(Vec<Cube>),
}

/// The answer.
pub(super) enum Decided {
    /// It never comes.
    Never(Because),
    /// It does; whether no shorter run brings it.
    Comes(Box<Found>, bool),
    /// A run after which the card does not come to rest.
    Restless(Run),
    /// Neither way, and what was tried; no run of up to this many events brings it.
    Open(Vec<String>, Option<usize>),
}

/// How much was asked.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Asked {
    pub(super) solver: usize,
    pub(super) tables: usize,
}

/// Decides. `known` is a run that brings it, if one was drawn; no run longer than `deepest` is searched for.
pub(super) fn decide(
    of: &Subject<'_>,
    known: Option<&Run>,
    deepest: usize,
    (effort, asked): (Effort, &mut Asked),
) -> Decided {
    let mut pair: Pair = of.pair.clone();
    for _ in 0..PATIENCE {
        let patient = Subject { pair: &pair, ..of.clone() };
        match once(&patient, known, deepest, (effort, &mut *asked)) {
            Decided::Restless(_) => {
                pair.limits = Limits { phases: 2 * pair.limits.phases, iterations: 2 * pair.limits.iterations };
            }
            decided => return decided,
        }
    }
    let patient = Subject { pair: &pair, ..of.clone() };
    once(&patient, known, deepest, (effort, asked))
}

fn once(of: &Subject<'_>, known: Option<&Run>, deepest: usize, (effort, asked): (Effort, &mut Asked)) -> Decided {
    let mut tried = Vec::new();
    let mut most = known.map_or(deepest, |run| run.events.len().min(deepest));
    let expected = of.monitor.is_reachable() && matches!(of.wanted, Wanted::Broken);
    let first = if expected { FIRST } else { STEPS };
    let mut runs = Unrolled::new(of, effort);
    let mut steps = Stepped::new(of, effort);
    let mut came = None;
    let mut none_up_to = None;
    let search = |runs: &mut Unrolled<'_>, depth: usize, none_up_to: &mut Option<usize>| match runs.at(depth) {
        Bounded::None => {
            *none_up_to = Some(depth);
            None
        }
        Bounded::Found(found) => Some(Decided::Comes(Box::new(found), true)),
        Bounded::Restless(run) => Some(Decided::Restless(run)),
        Bounded::GaveUp(why) => {
            Some(Decided::Open(vec![format!("a search for a run: gave up at {depth} events ({why})")], None))
        }
    };
    for depth in 0..=first.min(most) {
        came = search(&mut runs, depth, &mut none_up_to);
        if came.is_some() {
            break;
        }
        // what did not come in so many events from power-up, and never comes after as many without it
        if known.is_none() && depth <= STEPS && steps.closes(depth + 1) == Some(true) {
            came = Some(Decided::Never(Because::Steps(depth + 1)));
            break;
        }
    }
    if came.is_none() && known.is_none() {
        tried.push(format!("induction over {} steps", STEPS + 1));
        let (framed, questions) = frames(of, QUESTIONS, effort);
        asked.solver += questions;
        match framed {
            Framed::Never(cubes) => came = Some(Decided::Never(Because::Invariant(cubes))),
            // the run to a doubt is not needed
            Framed::Reached if matches!(of.wanted, Wanted::Doubt { .. }) => most = 0,
            Framed::Reached => most = most.saturating_mul(DEEPER),
            Framed::GaveUp(why) => tried.push(format!("a search for an invariant: {why}")),
        }
    }
    if came.is_none() {
        for depth in first + 1..=most {
            if let Some(over) = of.pair.limit.over() {
                tried.push(format!("a search for a run: {over} at {depth} events"));
                break;
            }
            came = search(&mut runs, depth, &mut none_up_to);
            if came.is_some() {
                break;
            }
        }
    }
    for (solver, tables) in [runs.questions(), steps.questions()] {
        asked.solver += solver;
        asked.tables += tables;
    }
    match came {
        Some(Decided::Open(more, _)) => {
            tried.extend(more);
            Decided::Open(tried, none_up_to)
        }
        Some(came) => came,
        None => {
            tried.push(format!("a search for a run: none of up to {most} events"));
            Decided::Open(tried, none_up_to)
        }
    }
}
