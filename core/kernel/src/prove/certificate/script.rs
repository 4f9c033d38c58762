//! The obligations of an induction as SMT-LIB 2.6, complete: power-up, at rest, and for every kind of event whether both
//! sides come to rest, every class is kept and every contact shows the same.
//!
//! Source of the language: Barrett, Fontaine, Tinelli, "The SMT-LIB Standard, Version 2.6" (2017), theory Core.
use std::collections::BTreeMap;
use std::fmt::Write;

use crate::prove::context::{Context, apart};
use crate::prove::obligations::Certificate;
use crate::prove::pair::{ORIGINAL, REPLACEMENT};
use crate::prove::start::{Begun, Power};
use crate::prove::{Proof, SIDES};
use crate::terms::{Node, Term, Terms};

use super::form;

/// One thing that must not happen, in a context of its own kind of event.
struct Never {
    kind: &'static str,
    words: String,
    when: Term,
}

/// What is asked about one event, about rest, or about power-up.
struct Chapter {
    event: String,
    terms: Terms,
    names: BTreeMap<u32, String>,
    given: Vec<Term>,
    never: Vec<Never>,
}

/// The obligations by name.
pub(super) fn listed(certificate: &Certificate) -> Vec<form::Obligation> {
    let mut all = Vec::new();
    each(certificate, |chapter| {
        let event = chapter.event.clone();
        all.extend(chapter.never.into_iter().map(|n| form::Obligation {
            kind: n.kind,
            event: event.clone(),
            never: n.words,
        }));
    });
    all
}

pub(super) fn script(proof: &Proof) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "; `{}` in place of `{}`", line(&proof.replacement), line(&proof.original));
    for a in &proof.assumptions {
        let _ = writeln!(text, "; assuming {}", line(a));
    }
    let Some(certificate) = &proof.certificate else {
        text.push_str(match proof.parts[..] {
            [] => "; proved by visiting every state: the table of the states is in the certificate\n(exit)\n",
            _ => "; proved part by part, not all by induction: there are no obligations of the whole\n(exit)\n",
        });
        return text;
    };
    text.push_str("; the answer to each check must be unsat\n");
    text.push_str("(set-option :print-success false)\n(set-info :smt-lib-version 2.6)\n(set-logic QF_UF)\n");
    each(certificate, |chapter| {
        let Chapter { event, terms, names, given, never } = chapter;
        let mut all: Vec<Term> = given.clone();
        all.extend(never.iter().map(|n| n.when));
        let _ = write!(text, "\n; {}\n(push 1)\n", line(&event));
        text.push_str(&terms.smt_definitions(&all, &|v| names.get(&v).cloned()));
        for &g in &given {
            let _ = writeln!(text, "(assert {})", terms.smt_edge(g));
        }
        for n in &never {
            let edge = terms.smt_edge(n.when);
            let _ = write!(
                text,
                "; {}: never {}\n(push 1)\n(assert {edge})\n(check-sat) ; unsat\n(pop 1)\n",
                n.kind,
                line(&n.words)
            );
        }
        text.push_str("(pop 1)\n");
    });
    text.push_str("(exit)\n");
    text
}

fn line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}

fn each(of: &Certificate, mut chapter: impl FnMut(Chapter)) {
    chapter(power_up(of));
    chapter(at_rest(of));
    for event in &of.pair.events {
        let (mut context, names, mut given) = separate(of);
        let case = context.case(&of.pair, &of.relation.classes, event);
        given.push(case.may);
        let contacts: Vec<String> = event.contacts.iter().map(|&c| contact(of, c)).collect();
        let event = match contacts.as_slice() {
            [only] => format!("contact {only} changes"),
            all => format!("contacts {} change together", all.join(", ")),
        };
        let mut never: Vec<Never> = SIDES
            .iter()
            .zip(case.unsettled)
            .map(|(of, when)| Never { kind: "settles", words: format!("the {of} does not come to rest"), when })
            .collect();
        let after: Vec<Vec<Term>> = (0..2)
            .map(|s| (0..of.pair.machines[s].cells().len()).map(|c| context.after(&of.pair, &case, (s, c))).collect())
            .collect();
        kept(of, &mut context.terms, "step", &after, &mut never);
        let differ: BTreeMap<usize, Term> = case.differ.iter().copied().collect();
        let resting: BTreeMap<usize, Term> = resting(of, &mut context);
        for c in 0..of.pair.contacts.len() {
            let words = format!("contact {} differs on the way or afterwards", contact(of, c));
            // a contact that nothing moved shows what it showed at rest
            let when = differ.get(&c).or_else(|| resting.get(&c)).copied().unwrap_or(Term::FALSE);
            never.push(Never { kind: "output", words, when });
        }
        chapter(Chapter { event, terms: context.terms, names, given, never });
    }
}

/// A context in which the two sides share nothing but the contacts, and the relation as assertions.
fn separate(of: &Certificate) -> (Context, BTreeMap<u32, String>, Vec<Term>) {
    let mut context = Context::separate(&of.pair, &of.relation.classes);
    let mut names = BTreeMap::new();
    let mut name = |terms: &Terms, t: Term, text: String| {
        if let Node::Variable(v) = terms.node(t) {
            names.insert(v, text);
        }
    };
    for (c, &t) in context.levels.iter().enumerate() {
        name(&context.terms, t, format!("contact {}: the level from the board", contact(of, c)));
    }
    for (s, side) in SIDES.iter().enumerate() {
        for (c, cell) in of.pair.machines[s].cells().iter().enumerate() {
            name(
                &context.terms,
                of.pair.machines[s].holds(&context.points[s], c),
                format!("`{}` of the {side}", cell.name),
            );
        }
    }
    let mut given = context.hypothesis.parts().to_vec();
    given.extend(broken(of, &mut context).into_iter().map(|t| !t));
    (context, names, given)
}

/// Where the relation does not hold in a context of separate sides.
pub(super) fn broken(of: &Certificate, context: &mut Context) -> Vec<Term> {
    let held: Vec<Vec<Term>> = (0..2).map(|s| of.pair.machines[s].held(&context.points[s])).collect();
    let mut never = Vec::new();
    kept(of, &mut context.terms, "step", &held, &mut never);
    let alike = context.contacts_differ(&of.pair, &of.relation.alike, [&[]; 2]);
    never.into_iter().map(|n| n.when).chain(alike.into_iter().map(|(_, differs)| differs)).collect()
}

/// Where the relation does not hold between what cells hold: every class, every cluster.
fn kept(of: &Certificate, terms: &mut Terms, kind: &'static str, held: &[Vec<Term>], never: &mut Vec<Never>) {
    let at = |(s, c): (usize, usize)| held.get(s).and_then(|h| h.get(c)).copied().unwrap_or(Term::FALSE);
    let broken: BTreeMap<usize, Term> = apart(terms, of.relation.classes.iter().enumerate(), at).into_iter().collect();
    for i in 0..of.relation.classes.len() {
        let when = broken.get(&i).copied().unwrap_or(Term::FALSE);
        never.push(Never { kind, words: format!("not {}", of.class_words(i)), when });
    }
    for (i, cluster) in of.relation.clusters.iter().enumerate() {
        let values: Vec<Term> = cluster.bits.iter().map(|&(bit, opposite)| at(bit).inverted_if(opposite)).collect();
        let holds = cluster.holds(terms, &values);
        never.push(Never { kind, words: format!("none of the combinations of {}", of.cluster_words(i)), when: !holds });
    }
}

/// Where contacts differ at rest.
pub(super) fn resting(of: &Certificate, context: &mut Context) -> BTreeMap<usize, Term> {
    let everywhere: Vec<usize> = (0..of.pair.contacts.len()).collect();
    context.contacts_differ(&of.pair, &everywhere, [&[]; 2]).into_iter().collect()
}

fn at_rest(of: &Certificate) -> Chapter {
    let (mut context, names, given) = separate(of);
    let differ = resting(of, &mut context);
    let never = (0..of.pair.contacts.len()).map(|c| Never {
        kind: "rest",
        words: format!("contact {} differs", contact(of, c)),
        when: differ.get(&c).copied().unwrap_or(Term::FALSE),
    });
    let never = never.collect();
    Chapter { event: "at rest".to_owned(), terms: context.terms, names, given, never }
}

fn power_up(of: &Certificate) -> Chapter {
    let mut power = Power::new(&of.pair);
    let starts: Vec<Begun> = of.begins.iter().map(|b| power.start(&of.pair, &of.relation, b)).collect();
    let mut names = BTreeMap::new();
    for (c, &t) in power.levels.iter().enumerate() {
        if let Node::Variable(v) = power.terms.node(t) {
            names.insert(v, format!("contact {}: the level from the board", contact(of, c)));
        }
    }
    for (cell, &t) in power.cells.iter().enumerate() {
        if let (Node::Variable(v), Some(cell)) = (power.terms.node(t), of.pair.machines[1].cells().get(cell)) {
            names.insert(v, format!("`{}` of the replacement at power-up", cell.name));
        }
    }
    let rests = |side: usize, when: Term| Never {
        kind: "settles",
        words: format!("the {} does not come to rest", SIDES[side]),
        when,
    };
    let mut never = vec![rests(REPLACEMENT, power.unsettled)];
    if let [start] = &starts[..] {
        never.insert(0, rests(ORIGINAL, start.unsettled));
        kept(of, &mut power.terms, "initial", &[start.held.clone(), power.rested.clone()], &mut never);
        let differ: BTreeMap<usize, Term> = start.differ.iter().copied().collect();
        never.extend(of.relation.alike.iter().map(|&c| Never {
            kind: "initial",
            words: format!("contact {} differs", contact(of, c)),
            when: differ.get(&c).copied().unwrap_or(Term::FALSE),
        }));
    } else {
        // whatever the replacement starts with, one of several starts of the original matches
        let bad: Vec<Term> = starts.iter().map(|s| s.bad(&mut power.terms)).collect();
        let words = format!("all {} starts of the original that are tried fail to match", starts.len());
        never.push(Never { kind: "initial", words, when: power.terms.all(bad) });
    }
    Chapter { event: "power-up".to_owned(), given: vec![power.allowed], terms: power.terms, names, never }
}

fn contact(of: &Certificate, c: usize) -> String {
    let contact = &of.pair.contacts[c];
    format!("{} {}", contact.label, contact.name)
}
