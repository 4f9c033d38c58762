//! The certificate's circuits against the checker's own: function by function, over the same bits.
use std::collections::HashSet;

use crate::graph::{Graph, Lit};
use crate::machine::{Bit, Machine, Point};
use crate::model::Model;
use crate::sat::{Answer, ask};
use crate::verdict::Verdict;

/// What the certificate's circuit says otherwise than the checker's own.
pub fn differences(own: &Machine, of: &Model, whose: &str, verdict: &mut Verdict) {
    let is_replacement = whose == "replacement";
    let whose = format!("the certificate's {whose}");
    if !of.is_sound() {
        return verdict.objects(format!("{whose} refers to what it does not have"));
    }
    let alive = |bit: &Bit| match *bit {
        Bit::Held(e) => own.live[e],
        Bit::Cut(_) => true,
        Bit::Mark(_) | Bit::Float(_) => false,
    };
    let named: HashSet<String> = own.bits.iter().copied().filter(alive).flat_map(|b| own.names(b)).collect();
    let mut theirs = Machine::new(of.clone(), &named, &named);
    // bits are told by kind and name
    let mate = |m: &Machine, bit: Bit| {
        let name = m.names(bit).swap_remove(0);
        let same = |o: &Bit| std::mem::discriminant(o) == std::mem::discriminant(&bit) && own.names(*o).contains(&name);
        own.bits.iter().position(same)
    };
    let elements: Vec<Option<usize>> = (0..of.elements.len()).map(|e| mate(&theirs, Bit::Held(e))).collect();
    // a mark is a matter of functions, and they are compared
    theirs.mark(|e| elements[e].is_some_and(|e| own.find(Bit::Mark(e)).is_some()));
    let mates: Vec<Option<usize>> = theirs.bits.iter().map(|&bit| mate(&theirs, bit)).collect();
    let lacking = theirs.bits.iter().zip(&mates).find(|(bit, mate)| matches!(bit, Bit::Cut(_)) && mate.is_none());
    if let Some((bit, _)) = lacking {
        let name = &theirs.names(*bit)[0];
        return verdict.objects(format!("{whose} has a loop at `{name}` that the checker's has not"));
    }
    let g = &mut Graph::default();
    let mine = own.free(g);
    let labels: Vec<Option<usize>> = of.contacts.iter().map(|c| own.model.find_contact(&c.label)).collect();
    let mut lits = |mates: &[Option<usize>], of: &[Lit]| -> Vec<Lit> {
        mates.iter().map(|mate| mate.map_or_else(|| g.free(), |i| of[i])).collect()
    };
    let point = Point { bits: lits(&mates, &mine.bits), outside: lits(&labels, &mine.outside) };
    let (values, other) = (own.evaluate(g, &mine), theirs.evaluate(g, &point));
    // what is called so is this here and that there, and the same where it matters
    let mut equal: Vec<(String, Lit, Lit, Lit)> = Vec::new();
    for (e, of) in own.model.elements.iter().enumerate().filter(|(e, _)| own.live[*e]) {
        let Some(t) = elements.iter().position(|&o| o == Some(e)) else {
            verdict.objects(format!("{whose} lacks `{}`", of.name));
            continue;
        };
        let their = &theirs.model.elements[t];
        if their.kind != of.kind || (is_replacement && their.start != of.start) {
            verdict.objects(format!("{whose} has `{}` as another kind of element", of.name));
        }
        let (a, b) = (own.inputs(&values, e), theirs.inputs(&other, t));
        for (k, what) in ["clock or gate", "data", "clear", "preset", "what is open"].iter().enumerate() {
            // what nobody knows is loaded may stand as anything
            let matters = if k == 1 { !a[4] } else { Lit::TRUE };
            equal.push((format!("as {what} of `{}`", of.name), a[k], b[k], matters));
        }
    }
    for (c, of) in own.model.contacts.iter().enumerate() {
        let (drive, level) = own.shows(&values, c);
        let Some(t) = labels.iter().position(|&o| o == Some(c)) else {
            if drive != Lit::FALSE {
                verdict.objects(format!("{whose} lacks contact {}", of.label));
            }
            continue;
        };
        let (their_drive, their_level) = theirs.shows(&other, t);
        let pulls = [(own, c), (&theirs, t)].map(|(m, c)| m.model.nets[m.model.contacts[c].net].pull);
        if pulls[0] != pulls[1] {
            verdict.objects(format!("{whose} has another resistor at contact {}", of.label));
        }
        let words = format!("at contact {}", of.label);
        equal.push((words.clone(), drive, their_drive, Lit::TRUE));
        equal.push((words, level, their_level, drive));
    }
    for (t, mate) in mates.iter().enumerate() {
        if let (Bit::Cut(_), Some(i)) = (theirs.bits[t], *mate) {
            equal.push((format!("at `{}`", own.names(own.bits[i])[0]), values.next[i], other.next[t], Lit::TRUE));
        }
    }
    for (words, a, b, matters) in equal {
        let differ = g.xor(a, b);
        if !matches!(ask(g, &[matters, differ], &mut verdict.counts), Answer::Never) {
            verdict.objects(format!("{whose} has another function {words}"));
        }
    }
}
