//! Contacts that one event moves together in the original and one after the other in the replacement, or the other way
//! round: whatever reads them as one word sees other words in between.
use crate::circuit::Circuit;
use crate::machine::{Freedom, NodeId, Symbolic};
use crate::order::Waves;
use crate::solver::{Answer, Effort, Solver};
use crate::terms::Term;

use super::context::Context;
use super::hidden::{Hidden, Of, Why};
use super::matching::Relation;
use super::pair::{Compared, ORIGINAL, Pair, REPLACEMENT};
use super::time::Timed;
use super::{Proof, acknowledge, call};

/// Contacts that one side moves together and the other in turn.
pub(super) struct Turns {
    /// The kind of event, by position.
    event: usize,
    /// The contacts, in the order in which that side moves them, each with its stage there.
    contacts: Vec<(usize, (u32, u32))>,
    /// The side that moves them in turn.
    side: usize,
    finding: Hidden,
}

impl Timed {
    /// All such contacts, by structure: behind the same number of registers on one side, and behind different numbers on
    /// the other.
    pub(super) fn turns(&self, pair: &Pair, circuits: [&Circuit; 2]) -> Vec<Turns> {
        let mut all = Vec::new();
        for (event, of) in pair.events.iter().enumerate() {
            let moving = [0, 1].map(|side| self.moving(event, side));
            let [Some(original), Some(replacement)] = &moving else { continue };
            let stages = [original.stages(), replacement.stages()];
            let stage = |c: usize, side: usize| {
                let contact = circuits[side].contacts().get(pair.contacts.get(c)?.ports[side]?)?;
                let is_driven = circuits[side].nets().get(contact.net.index()).is_some_and(|n| !n.drivers.is_empty());
                let moving = if side == ORIGINAL { original } else { replacement };
                moving.stage(&stages[side], contact.net).filter(|_| is_driven)
            };
            let shown = (0..pair.contacts.len())
                .filter(|c| pair.contacts[*c].compared != Compared::Not && !of.contacts.contains(c))
                .filter_map(|c| Some((c, [stage(c, ORIGINAL)?, stage(c, REPLACEMENT)?])));
            let shown: Vec<(usize, [(u32, u32); 2])> = shown.collect();
            for side in [ORIGINAL, REPLACEMENT] {
                let mut together: Vec<u32> =
                    shown.iter().map(|(_, s)| s[1 - side]).filter(|s| s.0 == s.1 && s.0 > 0).map(|s| s.0).collect();
                together.sort_unstable();
                together.dedup();
                for stage in together {
                    let class = shown.iter().filter(|(_, s)| s[1 - side] == (stage, stage));
                    let class: Vec<(usize, (u32, u32))> = class.map(|&(c, s)| (c, s[side])).collect();
                    let apart = |x: (u32, u32), y: (u32, u32)| x.1 < y.0 || y.1 < x.0;
                    let mut contacts = class.clone();
                    contacts.retain(|&(_, s)| class.iter().any(|&(_, other)| apart(s, other)));
                    contacts.sort_by_key(|&(c, s)| (s, c));
                    if let Some(finding) = finding(pair, event, &contacts, side) {
                        all.push(Turns { event, contacts, side, finding });
                    }
                }
            }
        }
        all
    }
}

impl Turns {
    /// Whether an acknowledgement is of this, as something that the replacement does.
    pub(super) fn is_acknowledged(&self, acknowledged: &str, another_form: bool) -> bool {
        self.side == REPLACEMENT && call::covers(acknowledged, &self.finding, another_form)
    }

    fn is_open(&self, timed: &Timed, pair: &Pair, proof: &Proof, effort: Effort) -> bool {
        let anything = Relation::of(super::time::anything(pair));
        let (pair, relation) = proof.certificate.as_ref().map_or((pair, &anything), |c| (&*c.pair, &c.relation));
        let Some((event, moving)) = pair.events.get(self.event).zip(timed.moving(self.event, self.side)) else {
            return true;
        };
        let mut context = Context::new(pair, &relation.classes);
        context.assume(pair, relation);
        context.films(true);
        let case = context.case(pair, &relation.classes, event);
        let (machine, point) = (&pair.machines[self.side], &context.points[self.side]);
        let before = |n: NodeId| machine.value(point, n);
        let mut algebra = Symbolic::new(&mut context.terms, Freedom::Usual);
        let mut waves = Waves::new(&mut algebra, machine, &moving, &before, &case.films[self.side]);
        let moves: Vec<_> = self
            .contacts
            .iter()
            .filter_map(|&(c, stage)| Some((stage, waves.changes(pair.contacts.get(c)?.ports[self.side]?))))
            .collect();
        let mut both = Term::FALSE;
        for &(early, one) in &moves {
            for &(_, other) in moves.iter().filter(|(late, _)| early.1 < late.0) {
                let here = context.terms.and(one, other);
                both = context.terms.or(both, here);
            }
        }
        !matches!(context.ask(&mut Solver::new(effort), &[case.may, both]), Answer::No)
    }
}

/// Findings: those of which the proof allows that two of the contacts move in one event. And remarks on the others.
pub(super) fn told(
    timed: &Timed,
    pair: &Pair,
    (circuits, proof): ([&Circuit; 2], &Proof),
    effort: Effort,
) -> (Vec<Hidden>, Vec<String>) {
    let (mut findings, mut remarks) = (Vec::new(), Vec::new());
    for turns in timed.turns(pair, circuits) {
        if turns.side == ORIGINAL {
            remarks.push(turns.finding.to_string());
        } else if turns.is_open(timed, pair, proof, effort) {
            findings.push(turns.finding);
        }
    }
    (findings, remarks)
}

/// The finding about contacts that a side moves in turn; nothing if there are none.
fn finding(pair: &Pair, event: usize, contacts: &[(usize, (u32, u32))], side: usize) -> Option<Hidden> {
    let named = |c: usize| pair.contacts.get(c).map(|c| acknowledge::contact(&c.label, &c.name));
    let mut names = contacts.iter().filter_map(|&(c, _)| named(c));
    let (name, others) = (names.next()?, names.collect::<Vec<String>>());
    let event: Vec<String> = pair.events.get(event)?.contacts.iter().filter_map(|&c| named(c)).collect();
    let event = event.join(", ");
    let of = if side == ORIGINAL { Of::Original } else { Of::Replacement };
    let call = call::in_turn(&name, others.len(), of, &event);
    Some(Hidden { of, name, call, others, why: Why::InTurn { event }, reaches: Vec::new() })
}
