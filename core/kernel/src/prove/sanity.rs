//! Questions before the proof: do the assumptions leave anything to prove, and is each side equal to itself?
use crate::circuit::Circuit;
use crate::machine::{Freedom, Machine, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::matching::{Class, Open, induct};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};

/// Checks that the assumptions can hold, and that every contact that is read can still go both ways: else a proof would
/// hold for want of anything that could happen.
pub(super) fn check(pair: &Pair, effort: Effort) -> Result<(), String> {
    if pair.assumptions.is_empty() && pair.restrictions.is_empty() {
        return Ok(());
    }
    let mut terms = Terms::new();
    let levels: Vec<Term> =
        pair.contacts.iter().map(|c| if c.is_read { terms.variable() } else { Term::FALSE }).collect();
    let mut solver = Solver::new(effort);
    let holds: Vec<Term> = (0..pair.assumptions.len())
        .map(|i| {
            let mut one = pair.clone();
            one.assumptions = vec![pair.assumptions[i].clone()];
            one.allowed(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels)
        })
        .collect();
    if !possible(&mut solver, &terms, &holds)? {
        let smallest = smallest(&mut solver, &terms, &holds)?;
        let texts: Vec<_> = smallest.into_iter().map(|i| pair.assumptions[i].text.clone()).collect();
        return Err(format!("these assumptions can't all hold, so nothing would be proved: {}", texts.join("; ")));
    }
    for event in &pair.events {
        let mut next = levels.clone();
        for &c in &event.contacts {
            next[c] = if event.contacts.len() == 1 { !levels[c] } else { terms.variable() };
        }
        let after = pair.may(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels, &next);
        for &c in &event.contacts {
            for from in [levels[c], !levels[c]] {
                let mut wanted = holds.clone();
                wanted.extend([after, from]);
                let changes = terms.xor(levels[c], next[c]);
                wanted.push(changes);
                if !possible(&mut solver, &terms, &wanted)? {
                    let contact = &pair.contacts[c];
                    let way = if from == levels[c] { "low" } else { "high" };
                    return Err(format!(
                        "under the assumptions contact {} {} can never go {way}, so nothing about that would be proved: \
                         say which contacts change together, or weaken an assumption",
                        contact.label, contact.name
                    ));
                }
            }
        }
    }
    Ok(())
}

/// Checks that a circuit is equal to itself, bit by bit and contact by contact: what fails here is a mistake of the
/// prover, and no verdict of its can be believed. Whether the circuit comes to rest is asked elsewhere.
pub(super) fn reflexive(circuit: &Circuit, machine: &Machine, effort: Effort) -> Result<(), String> {
    let count = machine.cells().len();
    let mut pair = Pair::new(machine.clone(), machine.clone(), Vec::new(), Vec::new(), &[]);
    pair.against = Freedom::Usual;
    let same = |c: usize| Class { bits: vec![((ORIGINAL, c), false), ((REPLACEMENT, c), false)], is_constant: false };
    let classes: Vec<Class> = (0..count).map(same).collect();
    match induct(&pair, classes.clone(), effort) {
        (_, Err(Open::Restless(_))) => Ok(()),
        (kept, Ok(_)) if kept == classes => Ok(()),
        (_, Err(Open::GaveUp(why))) => {
            Err(format!("whether `{}` equals itself: the solver gave up ({why})", circuit.name))
        }
        _ => Err(format!(
            "`{}` was not found equal to itself: this is a mistake of the prover, please report it",
            circuit.name
        )),
    }
}

fn possible(solver: &mut Solver, terms: &Terms, wanted: &[Term]) -> Result<bool, String> {
    match solver.satisfy(terms, wanted) {
        Answer::Yes(_) => Ok(true),
        Answer::No => Ok(false),
        Answer::Unknown(why) => Err(format!("whether the assumptions can hold: the solver gave up ({why})")),
    }
}

/// A smallest set that can't hold together: all sets of one, of two, and so on; there are few assumptions.
fn smallest(solver: &mut Solver, terms: &Terms, holds: &[Term]) -> Result<Vec<usize>, String> {
    let n = holds.len().min(16);
    let mut sets: Vec<u32> = (1..1u32 << n).collect();
    sets.sort_by_key(|s| s.count_ones());
    for set in sets {
        let chosen: Vec<usize> = (0..n).filter(|i| (set >> i) & 1 == 1).collect();
        let wanted: Vec<Term> = chosen.iter().map(|&i| holds[i]).collect();
        if !possible(solver, terms, &wanted)? {
            return Ok(chosen);
        }
    }
    Ok((0..holds.len()).collect())
}
