//! The certificate's circuits against the checker's own: function by function, over the same bits.
use std::collections::HashSet;

use crate::certificate::{SIDES, Side};
use crate::graph::{Graph, Lit};
use crate::machine::{Bit, Machine, Point};
use crate::model::Model;
use crate::sat::ask;
use crate::verdict::Verdict;

/// What the certificate's circuit says otherwise than the checker's own.
pub fn differences(own: &Machine, of: &Model, side: Side, verdict: &mut Verdict) {
    let whose = format!("the certificate's {}", SIDES[side as usize]);
    if !of.is_sound() {
        return verdict.objects(format!("{whose} refers to what it does not have"));
    }
    let alive = |bit: &Bit| matches!(bit, Bit::Cut(_)) || matches!(*bit, Bit::Held(e) if own.live[e]);
    let named: HashSet<String> = own.bits.iter().copied().filter(alive).flat_map(|b| own.names(b)).collect();
    let mut theirs = Machine::new(of.clone(), |_| true, &named, &named);
    // bits are told by kind and name
    let mate = |m: &Machine, bit: Bit| {
        let name = m.names(bit).swap_remove(0);
        let same = |o: &Bit| std::mem::discriminant(o) == std::mem::discriminant(&bit) && own.names(*o).contains(&name);
        own.bits.iter().position(same)
    };
    // a mark is a matter of functions, and they are compared
    let marked = |e| mate(&theirs, Bit::Held(e)).is_some_and(|e| own.find(Bit::Mark(e)).is_some());
    let marked: Vec<bool> = (0..of.elements.len()).map(marked).collect();
    theirs.mark(|e| marked[e]);
    let mates: Vec<Option<usize>> = theirs.bits.iter().map(|&bit| mate(&theirs, bit)).collect();
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
        let Some(t) = mates.iter().position(|&o| o == Some(e)) else {
            verdict.objects(format!("{whose} lacks `{}`", of.name));
            continue;
        };
        let their = &theirs.model.elements[t];
        if their.kind != of.kind || (side == Side::Replacement && their.start != of.start) {
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
    for (t, mate) in mates.iter().enumerate().filter(|(t, _)| matches!(theirs.bits[*t], Bit::Cut(_))) {
        let words = format!("at the loop of `{}`", theirs.names(theirs.bits[t])[0]);
        match mate {
            Some(i) => equal.push((words, values.next[*i], other.next[t], Lit::TRUE)),
            None => verdict.objects(format!("{whose} has another loop {words}")),
        }
    }
    for (words, a, b, matters) in equal {
        let differ = g.xor(a, b);
        if ask(g, &[matters, differ], verdict).is_some() {
            verdict.objects(format!("{whose} has another function {words}"));
        }
    }
}
