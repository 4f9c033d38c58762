//! The proof as a safety problem of hardware model checking, in AIGER 1.9: the product of both sides, and a witness of it.
//!
//! Refinement asks for some start of the original and some outcome of what nobody knows of it. Once the proof has functions
//! for both (the matching gives the start, the usual outcome or what the replacement has resolves the rest) it is a safety
//! property: the product never shows two things at one contact. The first step of the product is power-up; then each step
//! is one event, which the inputs choose. The witness is the same circuit with the proof's invariant as its property
//! (Yu, Biere, Heljanko, "Progress in Certifying Hardware Model Checking Results", CAV 2021); it is checked by a base case,
//! a step, and that its property implies the product's.
//!
//! Source of the form: Biere, Heljanko, Wieringa, "AIGER 1.9 And Beyond", 2011; binary form.
use std::collections::BTreeMap;
use std::fmt::Write;

use crate::prove::context::{Case, Context};
use crate::prove::obligations::Certificate;
use crate::prove::start::Power;
use crate::prove::{SIDES, pair::ORIGINAL};
use crate::terms::{Node, Term, Terms};

use super::script::{broken, resting};

/// A product machine and its witness, as files in AIGER 1.9.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Product {
    /// The product: its bad state is a difference, or a side that does not come to rest.
    pub model: Vec<u8>,
    /// The same with the invariant as its property.
    pub witness: Vec<u8>,
}

/// A circuit of and-gates that grows, its inputs and latches first.
struct Gates {
    inputs: Vec<String>,
    latches: Vec<String>,
    ands: Vec<(u32, u32)>,
    known: BTreeMap<(u32, u32), u32>,
}

impl Gates {
    fn first(&self) -> u32 {
        (self.inputs.len() + self.latches.len()) as u32 + 1
    }

    fn and(&mut self, a: u32, b: u32) -> u32 {
        let (a, b) = (a.max(b), a.min(b));
        match (a, b) {
            (_, 0) => return 0,
            (_, 1) => return a,
            _ if a == b => return a,
            _ if a == b ^ 1 => return 0,
            _ => {}
        }
        let next = 2 * (self.first() + self.ands.len() as u32);
        let ands = &mut self.ands;
        *self.known.entry((a, b)).or_insert_with(|| {
            ands.push((a, b));
            next
        })
    }

    fn or(&mut self, a: u32, b: u32) -> u32 {
        self.and(a ^ 1, b ^ 1) ^ 1
    }

    fn choose(&mut self, when: u32, then: u32, otherwise: u32) -> u32 {
        let (one, other) = (self.and(when, then), self.and(when ^ 1, otherwise));
        self.or(one, other)
    }

    /// A term's gate, its variables being these.
    fn of(
        &mut self,
        terms: &Terms,
        term: Term,
        variables: &BTreeMap<u32, u32>,
        done: &mut BTreeMap<usize, u32>,
    ) -> u32 {
        let mut stack = vec![term];
        while let Some(&t) = stack.last() {
            if done.contains_key(&t.node()) {
                stack.pop();
                continue;
            }
            let at = |x: Term, done: &BTreeMap<usize, u32>| done.get(&x.node()).map(|g| g ^ u32::from(x.is_inverted()));
            let gate = match terms.node(t) {
                Node::False => 0,
                Node::Variable(v) => variables.get(&v).copied().unwrap_or(0),
                Node::And(a, b) => match (at(a, done), at(b, done)) {
                    (Some(x), Some(y)) => self.and(x, y),
                    (x, y) => {
                        stack.extend([(x, a), (y, b)].into_iter().filter(|p| p.0.is_none()).map(|p| p.1));
                        continue;
                    }
                },
            };
            done.insert(t.node(), gate);
            stack.pop();
        }
        done.get(&term.node()).copied().unwrap_or(0) ^ u32::from(term.is_inverted())
    }

    /// The file: latches begin low.
    fn written(&self, next: &[u32], bad: u32, about: &str) -> Vec<u8> {
        let (i, l, a) = (self.inputs.len(), self.latches.len(), self.ands.len());
        let mut text = format!("aig {} {i} {l} 0 {a} 1\n", i + l + a);
        for n in next {
            let _ = writeln!(text, "{n}");
        }
        let _ = writeln!(text, "{bad}");
        let mut bytes = text.into_bytes();
        for (k, &(x, y)) in self.ands.iter().enumerate() {
            let gate = 2 * (self.first() + k as u32);
            for mut delta in [gate - x, x - y] {
                while delta > 127 {
                    bytes.push((delta & 127) as u8 | 128);
                    delta >>= 7;
                }
                bytes.push(delta as u8);
            }
        }
        let mut tail = String::new();
        for (kind, names) in [('i', &self.inputs), ('l', &self.latches)] {
            for (k, name) in names.iter().enumerate() {
                let _ = writeln!(tail, "{kind}{k} {}", name.replace(['\n', '\r'], " "));
            }
        }
        let _ = writeln!(tail, "b0 {about}\nc\n{about}");
        bytes.extend(tail.into_bytes());
        bytes
    }
}

/// One kind of event with the numbers of the variables that stand for new levels of a group.
struct Kind {
    case: Case,
    next: Vec<(usize, Term)>,
}

pub(super) fn product(of: &Certificate) -> Product {
    let pair = &*of.pair;
    let mut context = Context::separate(pair, &of.relation.classes);
    let relation = broken(of, &mut context);
    let resting: Vec<Term> = resting(of, &mut context).into_values().collect();
    let mut kinds = Vec::new();
    for event in &pair.events {
        let first = context.terms.variable_count() as u32;
        let case = context.case(pair, &of.relation.classes, event);
        let next = match event.contacts.as_slice() {
            [one] => vec![(*one, !context.levels[*one])],
            // the new levels of a group are the first variables that the case has made
            all => all.iter().zip(first..).filter_map(|(&c, v)| Some((c, context.terms.variable_of(v)?))).collect(),
        };
        kinds.push(Kind { case, next });
    }
    let mut power = Power::new(pair);
    let starts: Vec<_> = of.begins.iter().map(|b| power.start(pair, &of.relation, b)).collect();
    let (original, unsettled) = power.first_that_matches(&starts);

    let mut inputs: Vec<String> = (0..kinds.len()).map(|e| format!("event {e}")).collect();
    let mut latches = vec!["started".to_owned(), "allowed so far".to_owned()];
    // variables of the context: levels and cells are latches, the rest is chosen from outside
    let mut held: BTreeMap<u32, usize> = BTreeMap::new();
    let mut hold = |terms: &Terms, t: Term, name: String| {
        if let Node::Variable(v) = terms.node(t) {
            held.insert(v, latches.len());
        }
        latches.push(name);
    };
    let reads: Vec<usize> = (0..pair.contacts.len()).filter(|&c| pair.contacts[c].is_free).collect();
    for &c in &reads {
        hold(&context.terms, context.levels[c], format!("contact {}", pair.contacts[c].label));
    }
    let cells: Vec<(usize, usize)> =
        (0..2).flat_map(|s| (0..pair.machines[s].cells().len()).map(move |c| (s, c))).collect();
    for &(s, c) in &cells {
        let cell = pair.machines[s].holds(&context.points[s], c);
        hold(&context.terms, cell, format!("{} of the {}", pair.machines[s].cells()[c].name, SIDES[s]));
    }
    let mut chosen: BTreeMap<u32, usize> = BTreeMap::new();
    for v in (0..context.terms.variable_count() as u32).filter(|v| !held.contains_key(v)) {
        chosen.insert(v, inputs.len());
        inputs.push(format!("unknown {v}"));
    }
    let mut begins: BTreeMap<u32, usize> = BTreeMap::new();
    for v in 0..power.terms.variable_count() as u32 {
        begins.insert(v, inputs.len());
        inputs.push(format!("power-up {v}"));
    }
    let count = inputs.len();
    let input = |i: usize| 2 * (i as u32 + 1);
    let latch = |l: usize| 2 * ((count + l) as u32 + 1);
    let mut g = Gates { inputs, latches, ands: Vec::new(), known: BTreeMap::new() };
    let mut variables: BTreeMap<u32, u32> = held.iter().map(|(&v, &l)| (v, latch(l))).collect();
    variables.extend(chosen.iter().map(|(&v, &i)| (v, input(i))));
    let starting: BTreeMap<u32, u32> = begins.iter().map(|(&v, &i)| (v, input(i))).collect();
    let (started, so_far) = (latch(0), latch(1));
    let (mut done, mut woken) = (BTreeMap::new(), BTreeMap::new());
    let mut at = |g: &mut Gates, t: Term| g.of(&context.terms, t, &variables, &mut done);
    let mut begun = |g: &mut Gates, t: Term| g.of(&power.terms, t, &starting, &mut woken);

    // the first event whose input is high is the one
    let mut none = 1;
    let mut selected = Vec::new();
    for e in 0..kinds.len() {
        selected.push(g.and(none, input(e)));
        none = g.and(none, input(e) ^ 1);
    }
    let mut allowed = begun(&mut g, power.allowed);
    let mut may = 1;
    let mut wrong = 0;
    for (kind, &is) in kinds.iter().zip(&selected) {
        let keeps = at(&mut g, kind.case.may);
        let keeps = g.or(is ^ 1, keeps);
        may = g.and(may, keeps);
        for t in kind.case.unsettled.into_iter().chain(kind.case.differ.iter().map(|d| d.1)) {
            let when = at(&mut g, t);
            let when = g.and(is, when);
            wrong = g.or(wrong, when);
        }
    }
    for &t in &resting {
        let when = at(&mut g, t);
        wrong = g.or(wrong, when);
    }
    // a state that is not settled is no state; where a net floats it is one for some of what the net may read
    let floats = pair.machines.iter().any(|m| !m.floating().is_empty());
    for &t in context.hypothesis.parts() {
        let holds = at(&mut g, t);
        if floats {
            may = g.and(may, holds);
        } else {
            wrong = g.or(wrong, holds ^ 1);
        }
    }
    allowed = g.choose(started, may, allowed);
    // the latch begins low: before the first step nothing has been forbidden
    let before = g.or(started ^ 1, so_far);
    allowed = g.and(before, allowed);
    let mut restless = 0;
    for t in [unsettled, power.unsettled] {
        let when = begun(&mut g, t);
        restless = g.or(restless, when);
    }
    let bad = g.choose(started, wrong, restless);
    let bad = g.and(allowed, bad);

    let mut next = vec![1, allowed];
    let mut becomes = |g: &mut Gates, old: u32, first: u32, after: &mut dyn FnMut(&mut Gates, usize) -> u32| {
        let mut value = old;
        for (e, &is) in selected.iter().enumerate() {
            let then = after(g, e);
            value = g.choose(is, then, value);
        }
        next.push(g.choose(started, value, first));
    };
    for (k, &c) in reads.iter().enumerate() {
        let first = begun(&mut g, power.levels[c]);
        becomes(&mut g, latch(2 + k), first, &mut |g, e| {
            let new = kinds[e].next.iter().find(|n| n.0 == c).map(|n| n.1);
            new.map_or(latch(2 + k), |t| at(g, t))
        });
    }
    for (k, &(s, c)) in cells.iter().enumerate() {
        let own = latch(2 + reads.len() + k);
        let first =
            begun(&mut g, if s == ORIGINAL { &original } else { &power.rested }.get(c).copied().unwrap_or(Term::FALSE));
        becomes(&mut g, own, first, &mut |g, e| at(g, context.after(pair, &kinds[e].case, (s, c))));
    }
    let model = g.written(&next, bad, "a contact differs, or a side does not come to rest");
    let mut outside = 0;
    for t in relation {
        let when = at(&mut g, t);
        outside = g.or(outside, when);
    }
    let outside = g.and(started, outside);
    let outside = g.and(so_far, outside);
    let unfit = g.or(bad, outside);
    let witness = g.written(&next, unfit, "a difference, or the invariant does not hold");
    Product { model, witness }
}
