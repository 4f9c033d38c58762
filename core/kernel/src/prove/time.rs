//! Which doubts of time can matter in the states that a proof is about: its own invariant is asked.
use std::sync::Arc;

use crate::circuit::Circuit;
use crate::machine::{Freedom, Limits, NodeId, Symbolic};
use crate::order::{Doubt, Moving, Opened, Rule, Signal, Waves, Ways};
use crate::solver::{Answer, Effort, Solver};

use super::acknowledge;
use super::cluster::Cluster;
use super::hidden::{Hidden, Of, Why};
use super::matching::{self, Class};
use super::pair::{Event, ORIGINAL, Pair};
use super::run::Explained;
use super::world::World;
use super::{Proof, Refutation};

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

/// How often a proof is asked again while more is found open.
const ROUNDS: usize = 3;

/// What causality leaves open in each kind of event of a pair, by structure.
pub(super) struct Timed {
    ways: [Arc<Ways>; 2],
    /// The ports that change in each kind of event, by side.
    ports: Vec<[Vec<usize>; 2]>,
    doubts: Vec<[Vec<Doubt>; 2]>,
}

impl Timed {
    /// Lets every contact change that moves something in its circuit, however little of that shows once settled, and looks
    /// what causality leaves open.
    pub(super) fn new(pair: &mut Pair, circuits: [&Circuit; 2]) -> Self {
        let ways = circuits.map(|c| Arc::new(Ways::new(c)));
        for (side, (circuit, ways)) in circuits.iter().zip(&ways).enumerate() {
            let users = circuit.contacts().iter().enumerate().filter(|(_, c)| ways.has_users(c.net));
            pair.moves(side, users.map(|(i, _)| i));
        }
        let of = |event: &Event, side: usize| -> Vec<usize> {
            event.contacts.iter().filter_map(|&c| pair.contacts.get(c)?.ports[side]).collect()
        };
        let ports: Vec<[Vec<usize>; 2]> = pair.events.iter().map(|e| [of(e, 0), of(e, 1)]).collect();
        let doubts = ports.iter().map(|p| [0, 1].map(|s: usize| Moving::of(&ways[s], &p[s]).doubts())).collect();
        Timed { ways, ports, doubts }
    }

    /// What can matter in states that the proof allows.
    pub(super) fn open(&self, pair: &Pair, proof: &Proof, effort: Effort) -> Vec<Open> {
        match &proof.certificate {
            Some(c) => self.open_in(&c.pair, (&c.classes, &c.clusters), effort),
            None => {
                // no invariant: every settled state that keeps the assumptions
                let cells = (0..2).flat_map(|s| (0..pair.machines[s].cells().len()).map(move |c| (s, c)));
                let anything: Vec<Class> =
                    cells.map(|bit| Class { bits: vec![(bit, false)], is_constant: false }).collect();
                let mut longer = pair.clone();
                longer.limits = Limits { phases: PHASES, iterations: PHASES };
                self.open_in(&longer, (&anything, &[]), effort)
            }
        }
    }

    fn open_in(&self, pair: &Pair, (classes, clusters): (&[Class], &[Cluster]), effort: Effort) -> Vec<Open> {
        if self.doubts.iter().flatten().all(Vec::is_empty) {
            return Vec::new();
        }
        let mut world = World::new(pair, classes);
        world.assume(clusters);
        world.films(true);
        let mut solver = Solver::new(effort);
        let mut all = Vec::new();
        for (i, event) in pair.events.iter().enumerate() {
            let Some((doubts, ports)) = self.doubts.get(i).zip(self.ports.get(i)) else { continue };
            if doubts.iter().all(Vec::is_empty) {
                continue;
            }
            let case = world.case(pair, classes, event);
            for side in 0..2 {
                let moving = Moving::of(&self.ways[side], &ports[side]);
                for doubt in &doubts[side] {
                    let (machine, point) = (&pair.machines[side], &world.points[side]);
                    let before = |n: NodeId| machine.value(point, n);
                    let mut algebra = Symbolic::new(&mut world.terms, Freedom::Usual);
                    let matters = Waves::new(&mut algebra, machine, &moving, &before, &case.films[side]).when(doubt);
                    let matters = world.terms.or(matters, case.unsettled[side]);
                    if !matches!(world.ask(&mut solver, &[case.may, matters]), Answer::No) {
                        all.push(Open { side, event: i, doubt: doubt.clone() });
                    }
                }
            }
        }
        all
    }

    /// The pair with these doubts followed both ways.
    fn opened(&self, pair: &Pair, wanted: impl Fn(usize, usize, &Doubt) -> bool) -> Pair {
        let mut pair = pair.clone();
        for side in 0..2 {
            let kinds = self.ports.iter().zip(&self.doubts).enumerate().map(|(event, (ports, doubts))| {
                let chosen = doubts[side].iter().filter(|d| wanted(side, event, d)).cloned().collect();
                (ports[side].clone(), chosen)
            });
            let opened = Opened::new(&self.ways[side], kinds);
            pair.machines[side].opened = (!opened.is_empty()).then(|| Arc::new(opened));
        }
        pair
    }

    /// Whether a proof by induction holds whichever way these doubts, and those that come up on the way, turn out.
    pub(super) fn holds_either_way(&self, proof: &Proof, open: &[Open], effort: Effort) -> bool {
        let Some(c) = &proof.certificate else { return false };
        let mut open = open.to_vec();
        for _ in 0..ROUNDS {
            // one that may pulse would have to be followed through what it clocks
            let follows = |o: &Open| o.doubt.cell().is_some_and(|cell| self.ways[o.side].acts_on_nothing(cell));
            if !open.iter().all(follows) {
                return false;
            }
            let is_open = |side, event, doubt: &Doubt| {
                open.iter().any(|o| o.side == side && o.event == event && o.doubt == *doubt)
            };
            let mut pair = self.opened(&c.pair, is_open);
            pair.hostile = true;
            if matching::close(&pair, &c.classes, &c.clusters, effort).is_err() {
                return false;
            }
            let more: Vec<Open> = self
                .open_in(&pair, (&c.classes, &c.clusters), effort)
                .into_iter()
                .filter(|o| !open.iter().any(|k| k.side == o.side && k.event == o.event && k.doubt == o.doubt))
                .collect();
            if more.is_empty() {
                return true;
            }
            open.extend(more);
        }
        false
    }

    /// The pair in which the original may take either way, if that explains a run that refutes it otherwise.
    pub(super) fn excuse(&self, refutation: &Refutation, effort: Effort) -> Option<Pair> {
        let mut run = refutation.run.clone();
        let pair = self.opened(&run.pair, |side, _, _| side == ORIGINAL);
        pair.machines[ORIGINAL].opened.as_ref()?;
        run.pair = Arc::new(pair.clone());
        (!matches!(run.explain(effort), Explained::Not)).then_some(pair)
    }

    /// All that is open on the original's side by structure.
    pub(super) fn of_original(&self) -> Vec<Open> {
        let of = |(event, doubts): (usize, &[Vec<Doubt>; 2])| {
            let all = doubts[ORIGINAL].iter().cloned();
            all.map(move |doubt| Open { side: ORIGINAL, event, doubt }).collect::<Vec<_>>()
        };
        self.doubts.iter().enumerate().flat_map(of).collect()
    }

    /// What is open as findings, by which a proof is withheld.
    pub(super) fn findings(&self, open: &[Open], pair: &Pair, circuits: [&Circuit; 2]) -> Vec<Hidden> {
        let mut all: Vec<Hidden> = Vec::new();
        for o in open {
            let contacts = pair.events.get(o.event).map_or(&[][..], |e| &e.contacts);
            let event: Vec<String> = contacts
                .iter()
                .filter_map(|&c| pair.contacts.get(c))
                .map(|c| acknowledge::contact(&c.label, &c.name))
                .collect();
            let event = event.join(", ");
            let named = |way: &[Signal]| way.iter().map(|&s| self.ways[o.side].name(s).to_owned()).collect();
            let of = if o.side == ORIGINAL { Of::Original } else { Of::Replacement };
            let rule = o.doubt.rule;
            let mut name = o.doubt.name(circuits[o.side]).to_owned();
            let mut reaches = Vec::new();
            let mut at_net = false;
            if let (Rule::Pulse(role), Some(&pulses)) = (rule, o.doubt.first.last()) {
                // one that pulses is one finding, whatever hangs on it
                reaches.push(format!("the {role} of `{name}`"));
                name = self.ways[o.side].name(pulses).to_owned();
                at_net = self.ways[o.side].is_net(pulses);
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
            let call = acknowledge::event_call(&event, of);
            let why = Why::Order { rule, event, at_net, first, second };
            all.push(Hidden { of, call, name, others: Vec::new(), why, reaches });
        }
        all.sort();
        all.dedup();
        all
    }
}
