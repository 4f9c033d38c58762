//! Which doubts of time can matter in the states that a proof is about: its own invariant is asked.
use crate::circuit::Circuit;
use crate::machine::Limits;
use crate::order::{Doubt, Moving, Rule, Signal, Waves, Ways};
use crate::solver::{Answer, Effort, Solver};

use super::Proof;
use super::cluster::Cluster;
use super::hidden::{Hidden, Of, Why};
use super::matching::Class;
use super::pair::{ORIGINAL, Pair};
use super::world::World;

/// A doubt that some state allows, or that the solver could not exclude.
#[derive(Clone, Debug)]
pub(super) struct Open {
    pub(super) side: usize,
    /// The kind of event, by position.
    pub(super) event: usize,
    pub(super) doubt: Doubt,
}

/// How many phases are looked at where the proof has none of its own.
const PHASES: usize = 32;

/// What the phases take for granted in states that the proof allows, and causality does not decide.
pub(super) fn open(pair: &Pair, circuits: [&Circuit; 2], proof: &Proof, effort: Effort) -> Vec<Open> {
    let ways = circuits.map(Ways::new);
    let moving: Vec<[Moving<'_, '_>; 2]> = pair
        .events
        .iter()
        .map(|event| {
            [0, 1].map(|side: usize| {
                let ports: Vec<usize> =
                    event.contacts.iter().filter_map(|&c| pair.contacts.get(c)?.ports[side]).collect();
                Moving::of(&ways[side], &ports)
            })
        })
        .collect();
    let doubts: Vec<[Vec<Doubt>; 2]> = moving.iter().map(|m| [m[0].doubts(), m[1].doubts()]).collect();
    if doubts.iter().flatten().all(Vec::is_empty) {
        return Vec::new();
    }
    let anything: Vec<Class>;
    let (pair, classes, clusters): (Pair, &[Class], &[Cluster]) = match &proof.certificate {
        Some(c) => ((*c.pair).clone(), &c.classes, &c.clusters),
        None => {
            // no invariant: every settled state that keeps the assumptions
            let cells = (0..2).flat_map(|s| (0..pair.machines[s].cells().len()).map(move |c| (s, c)));
            anything = cells.map(|bit| Class { bits: vec![(bit, false)], is_constant: false }).collect();
            let mut longer = pair.clone();
            longer.limits = Limits { phases: PHASES, iterations: PHASES };
            (longer, &anything, &[])
        }
    };
    let mut world = World::new(&pair, classes);
    world.assume(clusters);
    world.films(true);
    let mut solver = Solver::new(effort);
    let mut all = Vec::new();
    for (i, (event, doubts)) in pair.events.iter().zip(doubts).enumerate() {
        if doubts.iter().all(Vec::is_empty) {
            continue;
        }
        let case = world.case(&pair, classes, event);
        for (side, doubts) in doubts.into_iter().enumerate() {
            for doubt in doubts {
                let (machine, before) = (&pair.machines[side], &world.points[side]);
                let mut waves = Waves::new(&mut world.terms, machine, &moving[i][side], before, &case.films[side]);
                let matters = waves.when(&doubt);
                let matters = world.terms.or(matters, case.unsettled[side]);
                if !matches!(world.ask(&mut solver, &[case.may, matters]), Answer::No) {
                    all.push(Open { side, event: i, doubt });
                }
            }
        }
    }
    all
}

/// The same as findings, by which a proof is withheld.
pub(super) fn findings(open: &[Open], pair: &Pair, circuits: [&Circuit; 2]) -> Vec<Hidden> {
    let ways = circuits.map(Ways::new);
    let mut all: Vec<Hidden> = Vec::new();
    for o in open {
        let contacts = pair.events.get(o.event).map_or(&[][..], |e| &e.contacts);
        let event: Vec<String> = contacts
            .iter()
            .filter_map(|&c| pair.contacts.get(c))
            .map(|c| if c.name == c.label.as_str() { c.name.clone() } else { format!("{} {}", c.label, c.name) })
            .collect();
        let event = event.join(", ");
        let named = |way: &[Signal]| way.iter().map(|&s| ways[o.side].name(s).to_owned()).collect();
        let of = if o.side == ORIGINAL { Of::Original } else { Of::Replacement };
        let rule = o.doubt.rule;
        let mut name = o.doubt.name(circuits[o.side]).to_owned();
        let mut reaches = Vec::new();
        let mut at_net = false;
        if let (Rule::Pulse(role), Some(&pulses)) = (rule, o.doubt.first.last()) {
            // one that pulses is one finding, whatever hangs on it
            reaches.push(format!("the {role} of `{name}`"));
            name = ways[o.side].name(pulses).to_owned();
            at_net = ways[o.side].is_net(pulses);
            let same = |h: &&mut Hidden| {
                h.of == of
                    && h.name == name
                    && matches!(&h.why, Why::Order { rule: Rule::Pulse(_), event: e, at_net: n, .. } if *e == event && *n == at_net)
            };
            if let Some(known) = all.iter_mut().find(same) {
                known.reaches.append(&mut reaches);
                continue;
            }
        }
        let (first, second) = (named(&o.doubt.first), named(&o.doubt.second));
        let why = Why::Order { rule, event, at_net, first, second };
        all.push(Hidden { of, call: name.clone(), name, others: Vec::new(), why, reaches });
    }
    all.sort();
    all.dedup();
    all
}
