//! The certificate's circuits against the checker's own: function by function, over the same bits.
use std::collections::{HashMap, HashSet};

use crate::graph::{Graph, Lit};
use crate::machine::{Machine, Point};
use crate::model::{Model, Op};
use crate::sat::{Answer, Counts, ask};

/// The circuit with its contacts on their nets, if everything that it refers to is there.
fn sound(of: &Model) -> Result<Model, String> {
    let mut m = of.clone();
    let (nets, elements, ops) = (m.nets.len(), m.elements.len(), m.ops.len());
    let mut known = of.ops.iter().enumerate().all(|(i, op)| match op {
        Op::Constant(_) => true,
        Op::Net(n) => *n < nets,
        Op::Held(e) | Op::Complement(e) => *e < elements,
        Op::Not(a) => *a < i,
        Op::All(all) | Op::Any(all) => all.iter().all(|&a| a < i),
        Op::Xor(a, b) => *a < i && *b < i,
        Op::Choose(a, b, c) => *a < i && *b < i && *c < i,
    });
    known &= of.elements.iter().all(|e| [e.gate, e.data, e.clear, e.preset, e.unknown].iter().all(|&x| x < ops));
    known &= of.nets.iter().flat_map(|n| &n.drivers).all(|d| d.enable < ops && d.level < ops);
    for (i, c) in of.contacts.iter().enumerate() {
        match m.nets.get_mut(c.net) {
            Some(net) => net.contact = Some(i),
            None => known = false,
        }
    }
    if known { Ok(m) } else { Err("it refers to what it does not have".to_owned()) }
}

/// What the certificate's circuit says otherwise than the checker's own.
pub fn differences(own: &Machine, of: &Model, whose: &str, counts: &mut Counts) -> Vec<String> {
    let theirs = match sound(of) {
        Ok(model) => model,
        Err(why) => return vec![format!("the certificate's {whose}: {why}")],
    };
    let names = |n: usize| {
        let also = own.model.also.iter().filter(move |(_, m)| **m == n).map(|(name, _)| name.clone());
        std::iter::once(own.model.nets[n].name.clone()).chain(also)
    };
    let cut_names: HashSet<String> = own.cuts.iter().flat_map(|&c| names(c)).collect();
    let live = own.model.elements.iter().zip(&own.live_elements).filter(|(_, live)| **live);
    let named: HashSet<String> = live.map(|(e, _)| e.name.clone()).chain(cut_names.iter().cloned()).collect();
    let mut theirs = Machine::new(theirs, &named, &named);
    let mut objections = Vec::new();
    let mut g = Graph::default();
    let g = &mut g;
    let mine = Point {
        held: own.model.elements.iter().map(|_| g.free()).collect(),
        mark: own.marked.iter().map(|&m| if m { g.free() } else { Lit::FALSE }).collect(),
        cut: own.cuts.iter().map(|_| g.free()).collect(),
        outside: own.model.contacts.iter().map(|_| g.free()).collect(),
        float: own.floating.iter().map(|_| g.free()).collect(),
    };
    let element: HashMap<&str, usize> =
        own.model.elements.iter().enumerate().map(|(i, e)| (e.name.as_str(), i)).collect();
    let net = |name: &str| own.model.find_net(name);
    let mut cut = Vec::new();
    for &c in &theirs.cuts {
        let found = net(&theirs.model.nets[c].name).and_then(|n| own.cuts.iter().position(|&o| o == n));
        let Some(found) = found else {
            return vec![format!(
                "the certificate's {whose} has a loop at `{}` that the checker's has not",
                theirs.model.nets[c].name
            )];
        };
        cut.push(found);
    }
    let lit = |found: Option<usize>, of: &[Lit], g: &mut Graph| {
        found.and_then(|i| of.get(i).copied()).unwrap_or_else(|| g.free())
    };
    let of_elements: Vec<Option<usize>> =
        theirs.model.elements.iter().map(|e| element.get(e.name.as_str()).copied()).collect();
    let of_contacts: Vec<Option<usize>> =
        theirs.model.contacts.iter().map(|c| own.model.contacts.iter().position(|o| o.label == c.label)).collect();
    let floats: Vec<Option<usize>> = theirs
        .floating
        .iter()
        .map(|&n| net(&theirs.model.nets[n].name).and_then(|n| own.floating.iter().position(|&o| o == n)))
        .collect();
    // a mark is a matter of functions, and they are compared
    theirs.marked = of_elements.iter().map(|&e| e.is_some_and(|e| own.marked[e])).collect();
    let point = Point {
        held: of_elements.iter().map(|&e| lit(e, &mine.held, g)).collect(),
        mark: of_elements.iter().map(|&e| e.map_or(Lit::FALSE, |e| mine.mark[e])).collect(),
        cut: cut.iter().map(|&c| mine.cut[c]).collect(),
        outside: of_contacts.iter().map(|&c| lit(c, &mine.outside, g)).collect(),
        float: floats.iter().map(|&f| lit(f, &mine.float, g)).collect(),
    };
    let (values, other) = (own.evaluate(g, &mine), theirs.evaluate(g, &point));
    let mut equal = |g: &mut Graph, a: Lit, b: Lit, under: Lit| {
        let differ = g.xor(a, b);
        matches!(ask(g, &[under, differ], counts), Answer::Never)
    };
    for (e, of) in own.model.elements.iter().enumerate().filter(|(e, _)| own.live_elements[*e]) {
        let Some(t) = of_elements.iter().position(|&o| o == Some(e)) else {
            objections.push(format!("the certificate's {whose} lacks `{}`", of.name));
            continue;
        };
        let their = &theirs.model.elements[t];
        if their.kind != of.kind || (whose == "replacement" && their.start != of.start) {
            objections.push(format!("the certificate's {whose} has `{}` as another kind of element", of.name));
        }
        let (a, b) = (own.inputs(&values, e), theirs.inputs(&other, t));
        for (k, what) in ["clock or gate", "data", "clear", "preset", "what is open"].iter().enumerate() {
            // what nobody knows is loaded may stand as anything
            let under = if k == 1 { !a[4] } else { Lit::TRUE };
            if !equal(g, a[k], b[k], under) {
                objections.push(format!("the certificate's {whose} has another function as {what} of `{}`", of.name));
            }
        }
    }
    for (c, of) in own.model.contacts.iter().enumerate() {
        let (drive, level) = own.shows(&values, c);
        let Some(t) = of_contacts.iter().position(|&o| o == Some(c)) else {
            if drive != Lit::FALSE {
                objections.push(format!("the certificate's {whose} lacks contact {}", of.label));
            }
            continue;
        };
        let (their_drive, their_level) = theirs.shows(&other, t);
        let pull_of = |m: &Machine, c: usize| m.model.nets[m.model.contacts[c].net].pull;
        if !equal(g, drive, their_drive, Lit::TRUE)
            || !equal(g, level, their_level, drive)
            || pull_of(own, c) != pull_of(&theirs, t)
        {
            objections.push(format!("the certificate's {whose} has another function at contact {}", of.label));
        }
    }
    for (k, &c) in cut.iter().enumerate() {
        let (a, b) = (own.next_cut(&values, c), theirs.next_cut(&other, k));
        if !equal(g, a, b, Lit::TRUE) {
            objections.push(format!(
                "the certificate's {whose} has another function at `{}`",
                own.model.nets[own.cuts[c]].name
            ));
        }
    }
    objections
}
