//! Questions before the proof: do the assumptions leave anything to prove, and is each side equal to itself?
use std::collections::BTreeSet;

use crate::circuit::{Circuit, Label};
use crate::limit::Limit;
use crate::machine::{Freedom, Machine, Symbolic};
use crate::nearest::{mistyped, nearest};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Term, Terms};

use super::context::Context;
use super::matching::Class;
use super::pair::{ORIGINAL, Pair, REPLACEMENT};
use super::{Assumption, Question, Refusal, Restriction};

/// The check of the prover takes at most one part in this many of the time that is left.
const PART: u32 = 8;

impl Question {
    /// Checks that every contact that an assumption, a restriction or a group names is there.
    pub(super) fn contacts_are_there(&self) -> Result<(), Refusal> {
        let there: BTreeSet<&Label> =
            [&self.original, &self.replacement].iter().flat_map(|c| c.contacts().iter().map(|c| &c.label)).collect();
        let mut named: Vec<(Label, String)> = Vec::new();
        let mut name = |by: String, contacts: Vec<Label>| named.extend(contacts.into_iter().map(|l| (l, by.clone())));
        for a in &self.assumptions {
            let mut contacts = Vec::new();
            a.holds.contacts(&mut contacts);
            name(format!("the assumption “{}”", a.text), contacts);
        }
        for r in &self.restrictions {
            let mut contacts = Vec::new();
            r.all_contacts(&mut contacts);
            name(format!("the assumption “{}”", r.text), contacts);
        }
        for group in &self.groups {
            let listed: Vec<&str> = group.iter().map(Label::as_str).collect();
            name(format!("the group of contacts that change together ({})", listed.join(", ")), group.clone());
        }
        match named.into_iter().find(|(label, _)| !there.contains(label)) {
            None => Ok(()),
            Some((label, by)) => {
                let text = label.as_str();
                let near = nearest(text, there.iter().map(|l| l.as_str()), mistyped(text));
                let near = near.into_iter().map(str::to_owned).collect();
                Err(Refusal::NoContact { label, by, near })
            }
        }
    }
}

/// Checks that the assumptions can hold, and that every contact that the board may move can still go both ways: else a
/// proof would hold for want of anything that could happen.
pub(super) fn check(pair: &Pair, effort: Effort) -> Result<(), Refusal> {
    let grouped = pair.events.iter().filter(|e| e.contacts.len() > 1).flat_map(|e| e.contacts.iter().copied());
    let moved = pair.restrictions.iter().flat_map(|r| r.contacts.iter().filter_map(|l| pair.contact_at(l)));
    if let Some(contact) = grouped.chain(moved).find(|&c| pair.is_held(c)).and_then(|c| pair.contacts.get(c)) {
        return Err(Refusal::Driven { label: contact.label.clone(), name: contact.name.clone() });
    }
    if pair.is_unconstrained() {
        return Ok(());
    }
    let mut terms = Terms::new();
    let levels: Vec<Term> =
        pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
    let mut solver = Solver::new(effort);
    // whatever the card may show
    let card: Vec<(usize, Term, Term)> =
        pair.answers.iter().map(|&c| (c, terms.variable(), terms.variable())).collect();
    let alone = |assumption: Option<&Assumption>, reaction: Option<&Assumption>, restriction: Option<&Restriction>| {
        let mut one = pair.clone();
        one.assumptions = assumption.cloned().into_iter().collect();
        one.reactions = reaction.cloned().into_iter().collect();
        one.restrictions = restriction.cloned().into_iter().collect();
        one
    };
    let assumed: Vec<Pair> = pair.assumptions.iter().map(|a| alone(Some(a), None, None)).collect();
    let reactions = pair.reactions.iter().map(|a| alone(None, Some(a), None));
    let restricted: Vec<Pair> = reactions.chain(pair.restrictions.iter().map(|r| alone(None, None, Some(r)))).collect();
    let holding = pair.assumptions.iter().chain(&pair.reactions).map(|a| a.text.as_str());
    let texts: Vec<&str> = holding.chain(pair.restrictions.iter().map(|r| r.text.as_str())).collect();
    let named = |chosen: Vec<usize>| chosen.into_iter().filter_map(|i| texts.get(i)).map(|t| (*t).to_owned()).collect();
    let holds: Vec<Term> =
        assumed.iter().map(|p| p.allowed(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels)).collect();
    if !possible(&mut solver, &terms, &holds)? {
        return Err(Refusal::Contradiction(named(smallest(&mut solver, &terms, &[], &holds)?)));
    }
    for event in &pair.events {
        let mut next = levels.clone();
        for &c in &event.contacts {
            next[c] = if event.contacts.len() == 1 { !levels[c] } else { terms.variable() };
        }
        // what each of them says of the levels before and after
        let mut says = Vec::with_capacity(texts.len());
        for (one, &before) in assumed.iter().zip(&holds) {
            let after = one.may(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels, &next, &card);
            says.push(terms.and(before, after));
        }
        for one in &restricted {
            says.push(one.may(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels, &next, &card));
        }
        for &c in &event.contacts {
            for from in [levels[c], !levels[c]] {
                let changes = terms.xor(levels[c], next[c]);
                let wanted: Vec<Term> = says.iter().copied().chain([from, changes]).collect();
                if possible(&mut solver, &terms, &wanted)? {
                    continue;
                }
                let culprits = smallest(&mut solver, &terms, &[from, changes], &says)?;
                let contact = &pair.contacts[c];
                return Err(Refusal::Stuck {
                    label: contact.label.clone(),
                    name: contact.name.clone(),
                    high: from != levels[c],
                    grouped: event.contacts.len() > 1 || culprits.iter().any(|&i| i >= pair.assumptions.len()),
                    by: named(culprits),
                });
            }
        }
    }
    Ok(())
}

/// Checks that a circuit is equal to itself, bit by bit and contact by contact: what fails here is a mistake of the
/// prover, and no verdict of its can be believed. Whether the circuit comes to rest is asked elsewhere.
///
/// No verdict rests on it: it takes a part of the time at most, and says what it did not find out.
pub(super) fn reflexive(circuit: &Circuit, machine: &Machine, effort: Effort) -> Result<Option<String>, Refusal> {
    let part = effort.limit.left().map_or(effort.limit, |left| effort.limit.and(Limit::within(left / PART)));
    let effort = Effort { limit: part, ..effort };
    let open = |why: String| {
        format!("whether `{}` equals itself, by which the prover is checked, was not found out ({why})", circuit.name)
    };
    let count = machine.cells().len();
    // equality to itself does not depend on the order of changes
    let mut machine = machine.clone();
    machine.opened = None;
    let mut pair = Pair::new(machine.clone(), machine, Vec::new(), Vec::new(), &[]);
    pair.against = Freedom::Usual;
    let same = |c: usize| Class { bits: vec![((ORIGINAL, c), false), ((REPLACEMENT, c), false)], is_constant: false };
    let classes: Vec<Class> = (0..count).map(same).collect();
    let mut context = Context::new(&pair, &classes);
    let mut solver = Solver::new(effort);
    let contacts: Vec<usize> = (0..pair.contacts.len()).collect();
    let at_rest = context.contacts_differ(&pair, &contacts, [&[]; 2]).into_iter().map(|(_, differs)| vec![differs]);
    let mut wrong: Vec<Vec<Term>> = at_rest.collect();
    for event in &pair.events {
        if let Some(over) = effort.limit.over() {
            return Ok(Some(open(over.to_string())));
        }
        let case = context.case(&pair, &classes, event);
        let parts = context.terms.any(case.apart.iter().map(|a| a.1).chain(case.differ.iter().map(|d| d.1)));
        // most circuits are equal to themselves term by term, and nothing is asked
        wrong.push(vec![parts, case.may, !case.unsettled[ORIGINAL], !case.unsettled[REPLACEMENT]]);
    }
    for goals in wrong {
        match context.ask(&mut solver, &goals) {
            Answer::No => {}
            Answer::Yes(_) => {
                return Err(Refusal::Mistake(format!("`{}` was not found equal to itself", circuit.name)));
            }
            Answer::Unknown(why) => return Ok(Some(open(why))),
        }
    }
    Ok(None)
}

fn possible(solver: &mut Solver, terms: &Terms, wanted: &[Term]) -> Result<bool, Refusal> {
    match solver.satisfy(terms, wanted) {
        Answer::Yes(_) => Ok(true),
        Answer::No => Ok(false),
        Answer::Unknown(why) => Err(Refusal::GaveUp { asked: "whether the assumptions can hold".to_owned(), why }),
    }
}

/// A smallest set that can't hold together beside `base`: all sets of one, of two, and so on; there are few assumptions.
fn smallest(solver: &mut Solver, terms: &Terms, base: &[Term], holds: &[Term]) -> Result<Vec<usize>, Refusal> {
    let n = holds.len().min(16);
    let mut sets: Vec<u32> = (1..1u32 << n).collect();
    sets.sort_by_key(|s| s.count_ones());
    for set in sets {
        let chosen: Vec<usize> = (0..n).filter(|i| (set >> i) & 1 == 1).collect();
        let wanted: Vec<Term> = chosen.iter().map(|&i| holds[i]).chain(base.iter().copied()).collect();
        if !possible(solver, terms, &wanted)? {
            return Ok(chosen);
        }
    }
    Ok((0..holds.len()).collect())
}
