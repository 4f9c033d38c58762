//! Which bits of the two sides correspond: guessed from a run that both can do, refined until it is inductive.
use std::collections::{BTreeMap, HashMap};

use crate::machine::{Lanes, Point, Unknown};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term};

use super::draw::Draw;
use super::pair::{ORIGINAL, Pair};
use super::world::World;

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

/// Why an induction step does not go through.
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
    pub(super) structural: usize,
    /// Unknowns that occur, by side.
    pub(super) unknowns: Vec<(usize, Unknown)>,
    /// Nets of each side whose drivers can fight.
    pub(super) fights: [Vec<usize>; 2],
}

/// Classes of bits that no run of 64 lanes tells apart, from a pair of states that match.
pub(super) fn guess(pair: &Pair, levels: &[u64], cells: [Vec<u64>; 2], draw: &mut Draw, events: usize) -> Vec<Class> {
    let mut points: Vec<Point<u64>> = (0..2).map(|side| pair.awake(side, levels, &cells[side]).point).collect();
    let mut levels = levels.to_vec();
    let bits: Vec<Bit> = (0..2).flat_map(|s| (0..pair.machines[s].cells().len()).map(move |c| (s, c))).collect();
    let mut signatures: Vec<Vec<u64>> = vec![Vec::with_capacity(events + 1); bits.len()];
    // a run in which the original loads anything says nothing from there on
    let mut tells = u64::MAX;
    for round in 0..=events {
        let held = [0, 1].map(|s| pair.machines[s].held(&points[s]));
        for (signature, &(s, c)) in signatures.iter_mut().zip(&bits) {
            let last = signature.last().copied().unwrap_or_default();
            signature.push((held[s][c] & tells) | (last & !tells));
        }
        if round < events {
            let change = draw.event(pair, &levels, false);
            for &(c, word) in &change {
                levels[c] = word;
            }
            for (side, point) in points.iter_mut().enumerate() {
                let mut lanes = Lanes::default();
                *point = pair.step(&mut lanes, side, point, &change, pair.ample()).point;
                let open = lanes.met.iter().filter(|(site, _)| side == ORIGINAL && matches!(site, Unknown::Load(_)));
                tells = open.fold(tells, |tells, (_, runs)| tells & !runs);
            }
        }
    }
    let mut classes: BTreeMap<usize, Class> = BTreeMap::new();
    let mut first: HashMap<Vec<u64>, usize> = HashMap::new();
    for (i, mut signature) in signatures.into_iter().enumerate() {
        let opposite = signature.first().is_some_and(|w| w & 1 == 1);
        if opposite {
            for w in &mut signature {
                *w = !*w;
            }
        }
        let is_constant = signature.iter().all(|&w| w == 0);
        let key = *first.entry(signature).or_insert(i);
        classes.entry(key).or_insert_with(|| Class { bits: Vec::new(), is_constant }).bits.push((bits[i], opposite));
    }
    classes.into_values().collect()
}

/// For each cell of the original the cells of the replacement that look like it or like its complement once both have
/// forgotten where they started, in most lanes first: a bit that a drawn run never showed may have been given a start
/// that no bit of the replacement has, and this says which one it should have had.
pub(super) fn partners(
    pair: &Pair,
    levels: &[u64],
    cells: [Vec<u64>; 2],
    draw: &mut Draw,
    events: usize,
) -> Vec<(usize, usize, bool)> {
    let mut points: Vec<Point<u64>> = (0..2).map(|side| pair.awake(side, levels, &cells[side]).point).collect();
    let mut levels = levels.to_vec();
    let count = [0, 1].map(|s: usize| pair.machines[s].cells().len());
    // for each pair the lanes in which the two have been equal, and opposite, all the time
    let mut alike = vec![[u64::MAX; 2]; count[0] * count[1]];
    for round in 0..events {
        let change = draw.event(pair, &levels, false);
        for &(c, word) in &change {
            levels[c] = word;
        }
        for (side, point) in points.iter_mut().enumerate() {
            *point = pair.step(&mut Lanes::default(), side, point, &change, pair.ample()).point;
        }
        if round >= events / 2 {
            let held = [0, 1].map(|s| pair.machines[s].held(&points[s]));
            for (o, &x) in held[0].iter().enumerate() {
                for (lanes, &y) in alike[o * count[1]..].iter_mut().zip(&held[1]) {
                    lanes[0] &= !(x ^ y);
                    lanes[1] &= x ^ y;
                }
            }
        }
    }
    let mut all: Vec<(u32, usize, usize, bool)> = Vec::new();
    for o in 0..count[0] {
        for r in 0..count[1] {
            for (opposite, lanes) in alike[o * count[1] + r].iter().enumerate() {
                if lanes.count_ones() >= 4 {
                    all.push((lanes.count_ones(), o, r, opposite == 1));
                }
            }
        }
    }
    all.sort_by_key(|&(lanes, o, r, opposite)| (std::cmp::Reverse(lanes), o, r, opposite));
    let mut seen = BTreeMap::new();
    all.retain(|&(_, o, ..)| {
        let times = seen.entry(o).or_insert(0);
        *times += 1;
        *times <= 2
    });
    all.into_iter().map(|(_, o, r, opposite)| (o, r, opposite)).collect()
}

/// Refines the classes until every kind of event keeps them and all contacts agree, or says what stays open.
pub(super) fn induct(pair: &Pair, mut classes: Vec<Class>, effort: Effort) -> (Vec<Class>, Result<Closed, Open>) {
    let mut closed = Closed::default();
    loop {
        closed.rounds += 1;
        match round(pair, &classes, effort, &mut closed) {
            Round::Kept => return (classes, Ok(closed)),
            Round::Open(open) => return (classes, Err(open)),
            Round::Split(next) => classes = next,
        }
    }
}

enum Round {
    Kept,
    Split(Vec<Class>),
    Open(Open),
}

fn round(pair: &Pair, classes: &[Class], effort: Effort, closed: &mut Closed) -> Round {
    let mut world = World::new(pair, classes);
    let mut solver = Solver::new(effort);
    let everywhere: Vec<usize> = (0..pair.contacts.len()).collect();
    let at_rest = world.contacts_differ(pair, &everywhere, None);
    let mut met: BTreeMap<(usize, Unknown), Vec<Term>> = BTreeMap::new();
    for event in &pair.events {
        let case = world.case(pair, classes, event);
        for &(side, site, when) in &case.met {
            met.entry((side, site)).or_default().push(when);
        }
        let bad = case.bad(&mut world.terms);
        if bad == Term::FALSE {
            closed.structural += 1;
            continue;
        }
        let mut wanted = world.hypothesis.clone();
        wanted.extend([case.may, bad]);
        let values = match solver.satisfy(&world.terms, &wanted) {
            Answer::No => continue,
            Answer::Unknown(why) => {
                let names: Vec<_> = event.contacts.iter().map(|&c| pair.contacts[c].name.clone()).collect();
                return Round::Open(Open::GaveUp(format!("when {} changes: {why}", names.join(" with "))));
            }
            Answer::Yes(values) => values,
        };
        closed.questions += solver.questions;
        let assignment = Assignment::new(&world.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        if let Some(split) = split(classes, |(s, c)| assignment.value(case.next[s][c])) {
            return Round::Split(split);
        }
        for (side, &unsettled) in case.unsettled.iter().enumerate() {
            if assignment.value(unsettled) {
                return Round::Open(Open::Restless(side));
            }
        }
        let contacts = case.differ.iter().filter(|(_, d)| assignment.value(*d)).map(|&(c, _)| c).collect();
        return Round::Open(Open::Contacts(contacts));
    }
    let mut open = Vec::new();
    for (c, differs) in at_rest {
        let mut wanted = world.hypothesis.clone();
        wanted.push(differs);
        match solver.satisfy(&world.terms, &wanted) {
            Answer::No => {}
            Answer::Yes(_) => open.push(c),
            Answer::Unknown(why) => return Round::Open(Open::GaveUp(why)),
        }
    }
    if !open.is_empty() {
        return Round::Open(Open::Contacts(open));
    }
    for (site, when) in met {
        let any = world.terms.any(when);
        let mut wanted = world.hypothesis.clone();
        wanted.push(any);
        if !matches!(solver.satisfy(&world.terms, &wanted), Answer::No) {
            closed.unknowns.push(site);
        }
    }
    for side in 0..2 {
        for (f, _) in pair.machines[side].fights().iter().enumerate() {
            let when = pair.machines[side].fights_at(&world.points[side], f);
            let mut wanted = world.hypothesis.clone();
            wanted.push(when);
            if !matches!(solver.satisfy(&world.terms, &wanted), Answer::No) {
                closed.fights[side].push(f);
            }
        }
    }
    closed.questions += solver.questions;
    Round::Kept
}

/// Classes in which some bits took another value than the others, taken apart.
fn split(classes: &[Class], value: impl Fn(Bit) -> bool) -> Option<Vec<Class>> {
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
