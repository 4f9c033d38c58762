//! Which bits of the two sides correspond: a guess, refined until it is inductive.
use std::collections::BTreeMap;

use crate::machine::{Machine, Unknown};
use crate::solver::{Answer, Effort, Solver, watched};
use crate::terms::{Assignment, Term};

use super::context::Context;
use super::invariant::Cluster;
use super::pair::{Event, Pair};

/// A bit of either side: side, cell.
pub(super) type Bit = (usize, usize);

/// Bits that are always equal or opposite.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Class {
    /// Each bit, and whether it is opposite to the class's value.
    pub(super) bits: Vec<(Bit, bool)>,
    /// The class's value is always low.
    pub(super) is_constant: bool,
}

/// What holds of two settled points that match: a candidate for an inductive invariant.
#[derive(Clone, Debug, Default)]
pub(super) struct Relation {
    /// Bits that are always equal or opposite.
    pub(super) classes: Vec<Class>,
    /// The combinations that bits in different codes take.
    pub(super) clusters: Vec<Cluster>,
    /// Contacts that show the same at rest although the classes alone do not say so. They stand for bits that have no
    /// partner because they are held elsewhere: a latch of gates may be cut at a net of which the other side has no copy.
    pub(super) alike: Vec<usize>,
}

impl Relation {
    /// These classes, and nothing else.
    pub(super) fn of(classes: Vec<Class>) -> Self {
        Relation { classes, ..Relation::default() }
    }
}

/// Why an induction step fails.
#[derive(Clone, Debug)]
pub(super) enum Open {
    /// These contacts can differ, as far as the matching tells.
    Contacts(Vec<usize>),
    /// This side may not come to rest.
    Restless(usize),
    /// The solver gave up on this.
    GaveUp(String),
}

/// What a closed induction used.
#[derive(Clone, Debug, Default)]
pub(super) struct Closed {
    pub(super) rounds: usize,
    pub(super) questions: usize,
    pub(super) tables: usize,
    pub(super) structural: usize,
    /// Unknowns that occur, by side.
    pub(super) unknowns: Vec<(usize, Unknown)>,
    /// Nets of each side whose drivers can fight.
    pub(super) fights: [Vec<usize>; 2],
}

/// Refines the classes until every kind of event keeps them and all contacts agree, or says what stays open. What is left
/// may be a relation that holds by itself but at no power-up: [`start::check`](super::start::check) asks about that.
pub(super) fn induct(pair: &Pair, classes: Vec<Class>, effort: Effort) -> (Relation, Result<Closed, Open>) {
    let mut relation = Relation::of(classes);
    let mut closed = Closed::default();
    loop {
        closed.rounds += 1;
        match round(pair, &relation, effort, &mut closed) {
            Round::Kept => return (relation, Ok(closed)),
            Round::Open(open) => return (relation, Err(open)),
            Round::Split(next) => relation.classes = next,
            Round::Alike(contacts) => relation.alike.extend(contacts),
        }
    }
}

/// Whether a relation closes the induction as it stands, but for contacts that must be alike at rest.
pub(super) fn close(pair: &Pair, relation: &mut Relation, effort: Effort) -> Result<Closed, Open> {
    let mut closed = Closed::default();
    loop {
        closed.rounds += 1;
        match round(pair, relation, effort, &mut closed) {
            Round::Kept => return Ok(closed),
            Round::Open(open) => return Err(open),
            Round::Split(_) => {
                let why = "a matching that was closed is not: this is a mistake of the prover";
                return Err(Open::GaveUp(why.to_owned()));
            }
            Round::Alike(contacts) => relation.alike.extend(contacts),
        }
    }
}

enum Round {
    Kept,
    Split(Vec<Class>),
    /// The relation does not say that these contacts show the same at rest.
    Alike(Vec<usize>),
    Open(Open),
}

/// What came of a share of the events.
struct Share {
    /// The first event that was not kept.
    failed: Option<Round>,
    closed: Closed,
}

/// Events and gates of a pair from which on its events are shared out over threads.
const LARGE: usize = 300_000;

/// How many shares a large pair makes: the same on every machine, so that its verdict and its report are.
const SHARES: usize = 4;

fn round(pair: &Pair, relation: &Relation, effort: Effort, closed: &mut Closed) -> Round {
    let gates: usize = pair.machines.iter().map(Machine::gate_count).sum();
    let count = pair.events.len();
    let shares = if gates.saturating_mul(count) < LARGE { 1 } else { SHARES };
    shared(pair, relation, effort, closed, shares)
}

/// One round with the events shared out; each share has terms of its own and its own solver.
fn shared(pair: &Pair, relation: &Relation, effort: Effort, closed: &mut Closed, shares: usize) -> Round {
    let size = pair.events.len().div_ceil(shares).max(1);
    let chunks: Vec<&[Event]> = if pair.events.is_empty() { vec![&[]] } else { pair.events.chunks(size).collect() };
    let mut context = Context::new(pair, &relation.classes);
    context.assume(pair, relation);
    let mut solver = Solver::new(effort);
    // first, so that no class is split by a model in which contacts differ at rest
    if let Err(round) = at_rest(pair, relation, &mut context, &mut solver) {
        closed.questions += solver.questions;
        closed.tables += solver.tables;
        return round;
    }
    let done: Vec<Share> = if let [only] = chunks[..] {
        vec![share(pair, relation, only, true, (context, solver))]
    } else {
        closed.questions += solver.questions;
        closed.tables += solver.tables;
        std::thread::scope(|scope| {
            let running: Vec<_> = chunks
                .iter()
                .enumerate()
                .map(|(i, chunk)| {
                    let context = context.clone();
                    scope.spawn(move || {
                        watched(effort.limit, || share(pair, relation, chunk, i == 0, (context, Solver::new(effort))))
                    })
                })
                .collect();
            let lost = || Share {
                failed: Some(Round::Open(Open::GaveUp("a thread of the prover was lost".to_owned()))),
                closed: Closed::default(),
            };
            running.into_iter().map(|thread| thread.join().unwrap_or_else(|_| lost())).collect()
        })
    };
    let mut failed = None;
    for share in done {
        closed.questions += share.closed.questions;
        closed.tables += share.closed.tables;
        closed.structural += share.closed.structural;
        closed.unknowns.extend(share.closed.unknowns);
        for (all, some) in closed.fights.iter_mut().zip(share.closed.fights) {
            all.extend(some);
        }
        // the shares stand in the order of their events
        failed = failed.or(share.failed);
    }
    if let Some(failed) = failed {
        closed.unknowns.clear();
        closed.fights = Default::default();
        return failed;
    }
    closed.unknowns.sort_unstable();
    closed.unknowns.dedup();
    Round::Kept
}

/// Do the contacts show the same at rest, as far as the relation says?
fn at_rest(pair: &Pair, relation: &Relation, context: &mut Context, solver: &mut Solver) -> Result<(), Round> {
    let contacts: Vec<usize> = (0..pair.contacts.len()).filter(|c| !relation.alike.contains(c)).collect();
    let mut open = Vec::new();
    for (c, differs) in context.contacts_differ(pair, &contacts, [&[]; 2]) {
        match context.ask(solver, &[differs]) {
            Answer::No => {}
            Answer::Yes(_) => open.push(c),
            Answer::Unknown(why) => return Err(Round::Open(Open::GaveUp(why))),
        }
    }
    if open.is_empty() { Ok(()) } else { Err(Round::Alike(open)) }
}

/// A share of the events; one of the shares also looks for fights.
fn share(
    pair: &Pair,
    relation: &Relation,
    events: &[Event],
    fights: bool,
    (mut context, mut solver): (Context, Solver),
) -> Share {
    let mut closed = Closed::default();
    let failed = kept(pair, relation, events, fights, (&mut context, &mut solver), &mut closed).err();
    closed.questions = solver.questions;
    closed.tables = solver.tables;
    Share { failed, closed }
}

fn kept(
    pair: &Pair,
    relation: &Relation,
    events: &[Event],
    fights: bool,
    (context, solver): (&mut Context, &mut Solver),
    closed: &mut Closed,
) -> Result<(), Round> {
    let (classes, clusters) = (&relation.classes[..], &relation.clusters[..]);
    let mut met: BTreeMap<(usize, Unknown), Vec<Term>> = BTreeMap::new();
    for event in events {
        if let Some(over) = pair.limit.over() {
            return Err(Round::Open(Open::GaveUp(over.to_string())));
        }
        let case = context.case(pair, classes, event);
        for &(side, site, when) in &case.met {
            met.entry((side, site)).or_default().push(when);
        }
        let wrong = case.bad(&mut context.terms);
        let outside = context.outside(pair, &case, clusters);
        let bad = context.terms.or(wrong, outside);
        if bad == Term::FALSE {
            closed.structural += 1;
            continue;
        }
        let values = match context.ask(solver, &[case.may, bad]) {
            Answer::No => continue,
            Answer::Unknown(why) => {
                let names: Vec<_> = event.contacts.iter().map(|&c| pair.contacts[c].name.clone()).collect();
                return Err(Round::Open(Open::GaveUp(format!("when {} changes: {why}", names.join(" with ")))));
            }
            Answer::Yes(values) => values,
        };
        let assignment = Assignment::new(&context.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        if let Some(split) = split(classes, |bit| assignment.value(context.after(pair, &case, bit))) {
            return Err(Round::Split(split));
        }
        for (side, &unsettled) in case.unsettled.iter().enumerate() {
            if assignment.value(unsettled) {
                return Err(Round::Open(Open::Restless(side)));
            }
        }
        if assignment.value(outside) {
            return Err(Round::Open(Open::GaveUp("bits in different codes leave their combinations".to_owned())));
        }
        let contacts = case.differ.iter().filter(|(_, d)| assignment.value(*d)).map(|&(c, _)| c).collect();
        return Err(Round::Open(Open::Contacts(contacts)));
    }
    for (site, when) in met {
        let any = context.terms.any(when);
        if !matches!(context.ask(solver, &[any]), Answer::No) {
            closed.unknowns.push(site);
        }
    }
    for side in if fights { 0..2 } else { 0..0 } {
        for (f, _) in pair.machines[side].fights().iter().enumerate() {
            let when = pair.machines[side].fights_at(&context.points[side], f);
            if !matches!(context.ask(solver, &[when]), Answer::No) {
                closed.fights[side].push(f);
            }
        }
    }
    Ok(())
}

/// Splits the classes in which some bits took another value than the others.
pub(super) fn split(classes: &[Class], value: impl Fn(Bit) -> bool) -> Option<Vec<Class>> {
    let mut next = Vec::new();
    let mut any = false;
    for class in classes {
        let of = |&(bit, opposite): &(Bit, bool)| value(bit) ^ opposite;
        let lead = if class.is_constant { false } else { class.bits.first().is_some_and(of) };
        let (same, other): (Vec<_>, Vec<_>) = class.bits.iter().copied().partition(|b| of(b) == lead);
        any |= !other.is_empty();
        if !same.is_empty() {
            next.push(Class { bits: same, is_constant: class.is_constant });
        }
        if !other.is_empty() {
            next.push(Class { bits: other, is_constant: false });
        }
    }
    any.then_some(next)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::{By, Circuit, Contact, Direction, Driver, Element, Kind, Origin, Polarity, Stage, Start};

    /// A shift register of four, its data and clock at contacts; `slip` exchanges two stages.
    fn shift(slip: bool) -> Circuit {
        let mut c = Circuit::new("shift");
        let contact = |c: &mut Circuit, label: u16, name: &str, direction| {
            let net = c.add_net(name, Origin::Nowhere);
            let (name, polarity, origin) = (name.to_owned(), Polarity::Data, Origin::Nowhere);
            c.add_contact(Contact { label: label.into(), name, net, polarity, direction, origin });
            net
        };
        let clock = contact(&mut c, 1, "clock", Direction::Input);
        let data = contact(&mut c, 2, "data", Direction::Input);
        let (clock, mut level) = (c.net(clock), c.net(data));
        for i in 0..4u16 {
            if slip && i == 2 {
                level = c.not(level);
            }
            let (clear, preset) = (crate::circuit::Expr::LOW, crate::circuit::Expr::LOW);
            let kind = Kind::Register { clock, data: level };
            let (name, start, origin) = (format!("q{i}"), Start::Any, Origin::Nowhere);
            let e = c.add_element(Element { name, kind, clear, preset, unknown_load: clear, start, origin });
            level = c.q(e);
            let net = contact(&mut c, 3 + i, &format!("y{i}"), Direction::Output);
            let (enable, stage, origin) = (crate::circuit::Expr::HIGH, Stage::PushPull, Origin::Nowhere);
            c.drive(net, Driver { enable, level, stage, by: By::signal("q"), origin });
        }
        c
    }

    #[test]
    fn shares_on_threads_come_to_the_same_as_one() {
        for slip in [false, true] {
            let machines = [Machine::new(&shift(false)), Machine::new(&shift(slip))];
            let [a, b] = machines;
            let pair = Pair::new(a, b, Vec::new(), Vec::new(), &[]);
            let class = |c| Class { bits: vec![((0, c), false), ((1, c), false)], is_constant: false };
            let relation = Relation::of((0..4).map(class).collect());
            let told: Vec<String> = [1, 2, 3, 8]
                .into_iter()
                .map(|shares| {
                    let mut closed = Closed::default();
                    match shared(&pair, &relation, Effort::default(), &mut closed, shares) {
                        Round::Kept => format!("kept {:?} {}", closed.unknowns, closed.structural),
                        Round::Split(next) => format!("split {next:?}"),
                        Round::Alike(contacts) => format!("alike {contacts:?}"),
                        Round::Open(open) => format!("{open:?}"),
                    }
                })
                .collect();
            assert!(told.iter().all(|t| *t == told[0]), "{told:?}");
            assert_eq!(told[0].starts_with("kept"), !slip);
        }
    }
}
