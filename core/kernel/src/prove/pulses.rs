//! Pulses of the original at its contacts that the phases show and that hang on an order of changes: whether they are there,
//! nobody knows.
use std::sync::Arc;

use crate::circuit::Circuit;
use crate::machine::{Freedom, NodeId, Symbolic};
use crate::order::Waves;
use crate::solver::{Effort, Solver};
use crate::terms::{Table, Term};

use super::context::Context;
use super::hidden::{Hidden, Of, Why};
use super::matching::Relation;
use super::pair::{Compared, ORIGINAL, Pair};
use super::run::{Explained, Run};
use super::time::{Timed, anything, possible};
use super::{Proof, Refutation, acknowledge};

/// What is known of the pulses of one contact in one kind of event, by structure.
struct Meeting {
    contact: usize,
    event: usize,
    ways: [Vec<String>; 2],
}

/// Contacts of the original at which two changes of one event may meet in either order.
fn meetings(timed: &Timed, pair: &Pair, circuit: &Circuit) -> Vec<Meeting> {
    let mut all = Vec::new();
    for event in 0..pair.events.len() {
        let Some(moving) = timed.moving(event, ORIGINAL) else { continue };
        for (contact, joined) in pair.contacts.iter().enumerate() {
            let net = joined.ports[ORIGINAL].and_then(|p| circuit.contacts().get(p)).map(|c| c.net);
            let Some(meets) = net.and_then(|net| moving.meets(net)) else { continue };
            all.push(Meeting { contact, event, ways: meets.map(|way| timed.names(ORIGINAL, &way)) });
        }
    }
    all
}

/// The pair in which such pulses need not be there, if that explains a run that refutes it otherwise; and their contacts.
pub(super) fn excuse(
    timed: &Timed,
    pair: &Pair,
    circuit: &Circuit,
    (refutation, effort): (&Refutation, Effort),
) -> Option<(Pair, Vec<usize>)> {
    let run = &refutation.run;
    let last = run.events.last()?;
    let is_last =
        |event: usize| pair.events.get(event).is_some_and(|e| last.iter().all(|(c, _)| e.contacts.contains(c)));
    let mut contacts = Vec::new();
    for m in meetings(timed, pair, circuit) {
        if is_last(m.event) && pair.is_compared_throughout(m.contact) && !contacts.contains(&m.contact) {
            contacts.push(m.contact);
        }
    }
    if contacts.is_empty() {
        return None;
    }
    let settled = |pair: &Pair| {
        let mut pair = pair.clone();
        let faded = pair.contacts.iter_mut().enumerate().filter(|(c, _)| contacts.contains(c));
        faded.for_each(|(_, joined)| joined.compared = Compared::Settled);
        pair
    };
    let pair = settled(pair);
    let excused =
        Run::record(&Arc::new(settled(&run.pair)), run.levels.clone(), run.cells.clone(), run.events.clone())?;
    (!matches!(excused.explain(effort), Explained::Not)).then_some((pair, contacts))
}

/// What of such pulses can be there in states that the proof allows, one finding a contact, of those that are wanted.
pub(super) fn told(
    timed: &Timed,
    pair: &Pair,
    (circuit, proof, effort): (&Circuit, &Proof, Effort),
    wanted: impl Fn(usize) -> bool,
) -> Vec<(usize, Hidden)> {
    let meetings = meetings(timed, pair, circuit);
    let meetings: Vec<Meeting> = meetings.into_iter().filter(|m| wanted(m.contact)).collect();
    if meetings.is_empty() {
        return Vec::new();
    }
    let anything = Relation::of(anything(pair));
    let (pair, relation) = proof.certificate.as_ref().map_or((pair, &anything), |c| (&*c.pair, &c.relation));
    let mut context = Context::new(pair, &relation.classes);
    context.assume(pair, relation);
    context.films(true);
    let (mut solver, mut table) = (Solver::new(effort), Table::default());
    let mut found: Vec<(usize, Hidden)> = Vec::new();
    for (i, event) in pair.events.iter().enumerate() {
        let here = meetings.iter().filter(|m| m.event == i && found.iter().all(|(c, _)| *c != m.contact));
        let here: Vec<&Meeting> = here.collect();
        let Some(moving) = timed.moving(i, ORIGINAL).filter(|_| !here.is_empty()) else { continue };
        let case = context.case(pair, &relation.classes, event);
        let (machine, point) = (&pair.machines[ORIGINAL], &context.points[ORIGINAL]);
        let before = |n: NodeId| machine.value(point, n);
        let mut algebra = Symbolic::new(&mut context.terms, Freedom::Usual);
        let mut waves = Waves::new(&mut algebra, machine, &moving, &before, &case.films[ORIGINAL]);
        let net = |m: &Meeting| pair.contacts.get(m.contact)?.ports[ORIGINAL].and_then(|p| circuit.contacts().get(p));
        let asked = here.into_iter().filter_map(|m| Some((m, waves.fades(net(m)?.net))));
        let mut asked: Vec<(&Meeting, Term)> = asked.collect();
        asked.retain(|(_, fades)| !table.is_never(&context.terms, *fades));
        for m in possible(&mut context, &mut solver, case.may, asked) {
            let named = |c: usize| pair.contacts.get(c).map(|c| acknowledge::contact(&c.label, &c.name));
            let event: Vec<String> = event.contacts.iter().filter_map(|&c| named(c)).collect();
            let Some(joined) = pair.contacts.get(m.contact) else { continue };
            let [first, second] = m.ways.clone();
            let finding = Hidden {
                of: Of::Original,
                name: acknowledge::contact(&joined.label, &joined.name),
                call: format!("contact {}", joined.label),
                others: Vec::new(),
                why: Why::Fades { event: event.join(", "), first, second },
                reaches: Vec::new(),
            };
            found.push((m.contact, finding));
        }
    }
    found
}
