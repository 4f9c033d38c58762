//! Which doubts of time can matter in the states that a proof is about: its own invariant is asked.
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::circuit::{Circuit, ElementId};
use crate::machine::{Freedom, Limits, Machine, NodeId, Symbolic};
use crate::order::{Doubt, Moving, Opened, Outcome, Rule, Signal, Site, Typically, Waves, Ways};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Table, Term};

use super::acknowledge;
use super::call;
use super::context::{Case, Context};
use super::hidden::{Hidden, Of, Why};
use super::matching::{self, Class, Relation};
use super::pair::{Event, ORIGINAL, Pair};
use super::run::Explained;
use super::{Proof, Refutation, Typical};

/// A doubt that some state allows, or that the solver could not exclude.
#[derive(Clone, Debug)]
pub(super) struct Open {
    pub(super) side: usize,
    /// The kind of event, by position.
    pub(super) event: usize,
    pub(super) doubt: Doubt,
    /// What typical delays say of it, if they decide it.
    pub(super) typically: Option<Typically>,
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
    doubts: Vec<[Vec<Known>; 2]>,
}

/// A doubt, with the way in which it turns out if that is known.
pub(super) struct Known {
    pub(super) doubt: Doubt,
    /// By what measured it and said so.
    pub(super) said: Option<Outcome>,
    /// By typical delays.
    typically: Option<Typically>,
    /// Whether the proof follows what they say, because it matters.
    follow: bool,
}

impl Known {
    /// The way that the proof follows, if it is one.
    fn outcome(&self) -> Option<Outcome> {
        match self.said {
            Some(Outcome::Either) => None,
            Some(said) => Some(said),
            None => self.typically.filter(|_| self.follow).map(|t| if t.new { Outcome::New } else { Outcome::Old }),
        }
    }
}

impl Timed {
    /// Lets every contact change that moves something in its circuit, however little of that shows once settled, and looks
    /// what causality leaves open, and what typical delays decide of that.
    pub(super) fn new(pair: &mut Pair, circuits: [&Circuit; 2], typical: bool) -> Self {
        let ways = circuits.map(|c| Arc::new(Ways::new(c)));
        for (side, (circuit, ways)) in circuits.iter().zip(&ways).enumerate() {
            let users = circuit.contacts().iter().enumerate().filter(|(_, c)| ways.has_users(c.net));
            pair.moves(side, users.map(|(i, _)| i));
        }
        let of = |event: &Event, side: usize| -> Vec<usize> {
            event.contacts.iter().filter_map(|&c| pair.contacts.get(c)?.ports[side]).collect()
        };
        let ports: Vec<[Vec<usize>; 2]> = pair.events.iter().map(|e| [of(e, 0), of(e, 1)]).collect();
        let known = |ports: &[Vec<usize>; 2], side: usize| -> Vec<Known> {
            let moving = Moving::of(&ways[side], &ports[side]);
            let typically = |d: &Doubt| moving.typically(d).filter(|_| typical);
            let doubts = moving.doubts().into_iter();
            doubts.map(|doubt| Known { typically: typically(&doubt), doubt, said: None, follow: false }).collect()
        };
        let doubts = ports.iter().map(|p| [known(p, 0), known(p, 1)]).collect();
        Timed { ways, ports, doubts }
    }

    /// Takes what acknowledgements say of it; the others are left.
    ///
    /// # Errors
    /// An outcome that a doubt can't have, with those that it can.
    pub(super) fn heed(
        &mut self,
        pair: &Pair,
        circuits: [&Circuit; 2],
        (acknowledged, another_form): (&[String], bool),
    ) -> Result<Vec<String>, String> {
        let all = self.of(|_, _, _| true);
        let groups = self.grouped(&all, pair, circuits);
        let turns = if acknowledged.is_empty() { Vec::new() } else { self.turns(pair, circuits) };
        let mut left = Vec::new();
        for a in acknowledged {
            let found = groups.iter().filter_map(|g| Some((g, call::outcome(a, &g.0, another_form)?)));
            let found: Vec<_> = found.collect();
            let is_known =
                another_form && call::is_of_time(a) || turns.iter().any(|t| t.is_acknowledged(a, another_form));
            if found.is_empty() && !is_known {
                left.push(a.clone());
            }
            for (group, outcome) in found {
                for open in group.1.iter().filter_map(|&i| all.get(i)) {
                    if !outcome.fits(open.doubt.rule) {
                        let can =
                            Outcome::ALL.into_iter().filter(|o| o.fits(open.doubt.rule)).map(|o| format!("`{o}`"));
                        return Err(format!(
                            "`{a}` is acknowledged, but that can't turn out {outcome}: say {}",
                            can.collect::<Vec<_>>().join(" or ")
                        ));
                    }
                    let event = self.doubts.get_mut(open.event).map(|e| &mut e[open.side]);
                    if let Some(known) = event.and_then(|all| all.iter_mut().find(|k| k.doubt == open.doubt)) {
                        known.said = Some(outcome);
                    }
                }
            }
        }
        Ok(left)
    }

    /// What one kind of event moves on one side.
    pub(super) fn moving(&self, event: usize, side: usize) -> Option<Moving> {
        self.ports.get(event).map(|ports| Moving::of(&self.ways[side], &ports[side]))
    }

    /// The pair in which what is known is followed.
    pub(super) fn followed(&self, pair: &Pair) -> Pair {
        self.opened(pair, |_, _, _| false)
    }

    /// Follows what typical delays say where it matters; whether anything was not followed before.
    pub(super) fn heed_typical(&mut self, open: &[Open]) -> bool {
        let mut any = false;
        for o in open.iter().filter(|o| o.typically.is_some()) {
            let event = self.doubts.get_mut(o.event).map(|e| &mut e[o.side]);
            if let Some(known) = event.and_then(|all| all.iter_mut().find(|k| k.doubt == o.doubt)) {
                any |= !std::mem::replace(&mut known.follow, true);
            }
        }
        any
    }

    /// Follows all that typical delays say; whether what a refutation shows may come out otherwise then.
    pub(super) fn doubts_refutation(&mut self, refutation: &Refutation, effort: Effort) -> bool {
        let all = self.of(|_, _, k| k.typically.is_some());
        if !self.heed_typical(&all) {
            return false;
        }
        if all.iter().any(|o| o.side != ORIGINAL) {
            return true;
        }
        let mut run = refutation.run.clone();
        run.pair = Arc::new(self.followed(&run.pair));
        !matches!(run.explain(effort), Explained::Not)
    }

    /// The pair whose original goes as was measured, else as typical delays say, and either way where that was acknowledged.
    pub(super) fn of_the_board(&mut self, pair: &Pair) -> Pair {
        let typical = self.of(|side, _, k| side == ORIGINAL && k.typically.is_some());
        self.heed_typical(&typical);
        self.opened(pair, |side, _, k| side == ORIGINAL && k.said == Some(Outcome::Either))
    }

    /// The registers and latches whose data or release is in doubt in some kind of event, whether it matters or not.
    pub(super) fn doubted(&self, circuits: [&Circuit; 2]) -> BTreeSet<(Of, String)> {
        let races = |_, _, k: &Known| matches!(k.doubt.rule, Rule::Race | Rule::Recovery);
        let all = self.of(races).into_iter();
        let side = |side: usize| if side == ORIGINAL { Of::Original } else { Of::Replacement };
        all.map(|o| (side(o.side), o.doubt.name(circuits[o.side]).to_owned())).collect()
    }

    /// All doubts that are wanted, by side, event and what is known of them.
    pub(super) fn of(&self, wanted: impl Fn(usize, usize, &Known) -> bool) -> Vec<Open> {
        let mut all = Vec::new();
        for (event, sides) in self.doubts.iter().enumerate() {
            for (side, known) in sides.iter().enumerate() {
                for k in known.iter().filter(|k| wanted(side, event, k)) {
                    let (doubt, typically) = (k.doubt.clone(), k.typically.filter(|_| k.said.is_none()));
                    all.push(Open { side, event, doubt, typically });
                }
            }
        }
        all
    }

    /// What can matter in states that the proof allows.
    pub(super) fn open(&self, pair: &Pair, proof: &Proof, effort: Effort) -> Vec<Open> {
        match &proof.certificate {
            Some(c) => self.open_in(&c.pair, &c.relation, effort),
            None => {
                let mut longer = pair.clone();
                longer.limits = Limits { phases: PHASES, iterations: PHASES };
                self.open_in(&longer, &Relation::of(anything(pair)), effort)
            }
        }
    }

    fn open_in(&self, pair: &Pair, relation: &Relation, effort: Effort) -> Vec<Open> {
        if self.doubts.iter().flatten().flatten().all(|k| k.said.is_some()) {
            return Vec::new();
        }
        let classes = &relation.classes[..];
        let mut context = Context::new(pair, classes);
        context.assume(pair, relation);
        context.films(true);
        let (mut solver, mut table) = (Solver::new(effort), Table::default());
        let mut all = Vec::new();
        for (i, event) in pair.events.iter().enumerate() {
            let Some((doubts, ports)) = self.doubts.get(i).zip(self.ports.get(i)) else { continue };
            if doubts.iter().all(Vec::is_empty) {
                continue;
            }
            let case = context.case(pair, classes, event);
            let moving = [0, 1].map(|side: usize| Moving::of(&self.ways[side], &ports[side]));
            let of = |side: usize| (&pair.machines[side], &moving[side], &case, side);
            let (mut when, mut closed) = (Vec::new(), Vec::new());
            for (side, known) in doubts.iter().enumerate() {
                let (loops, others): (Vec<&Known>, Vec<&Known>) =
                    known.iter().filter(|k| k.said.is_none()).partition(|k| k.doubt.rule == Rule::Loop);
                when.extend(wherever(&mut context, of(side), others, |waves, doubt| waves.when(doubt)));
                closed.extend(wherever(&mut context, of(side), loops, |waves, doubt| waves.closed(doubt)));
            }
            // most loops are none anywhere, as buses that are never driven both ways
            closed.retain(|(_, when)| !table.is_never(&context.terms, *when));
            let closed = possible(&mut context, &mut solver, case.may, closed);
            for side in 0..2 {
                let loops = closed.iter().filter(|(of, _)| *of == side).map(|(_, known)| *known).collect();
                when.extend(wherever(&mut context, of(side), loops, |waves, doubt| waves.when(doubt)));
            }
            when.retain(|(_, matters)| !table.is_never(&context.terms, *matters));
            let asked = when.into_iter().map(|((side, known), matters)| {
                let open = Open { side, event: i, doubt: known.doubt.clone(), typically: known.typically };
                (open, matters)
            });
            let asked = asked.collect();
            all.extend(possible(&mut context, &mut solver, case.may, asked));
        }
        all
    }

    /// The pair with what is known followed, and these doubts both ways.
    pub(super) fn opened(&self, pair: &Pair, either: impl Fn(usize, usize, &Known) -> bool) -> Pair {
        let mut pair = pair.clone();
        for side in 0..2 {
            let kinds = self.ports.iter().zip(&self.doubts).enumerate().map(|(event, (ports, doubts))| {
                let way = |k: &Known| {
                    let outcome = if either(side, event, k) { Some(Outcome::Either) } else { k.outcome() };
                    outcome.map(|o| (k.doubt.clone(), o))
                };
                (ports[side].clone(), doubts[side].iter().filter_map(way).collect())
            });
            let opened = Opened::new(&self.ways[side], kinds);
            pair.machines[side].opened = (!opened.is_empty()).then(|| Arc::new(opened));
        }
        pair
    }

    /// Whether both outcomes of a doubt can be followed: one that may pulse would have to be followed through what it clocks.
    pub(super) fn can_follow(&self, o: &Open) -> bool {
        o.doubt.cell().is_some_and(|cell| self.ways[o.side].acts_on_nothing(cell))
    }

    /// Whether a proof by induction holds whichever way these doubts, and those that come up on the way, turn out.
    pub(super) fn holds_either_way(&self, proof: &Proof, open: &[Open], effort: Effort) -> bool {
        let Some(c) = &proof.certificate else { return false };
        let mut open = open.to_vec();
        for _ in 0..ROUNDS {
            if !open.iter().all(|o| self.can_follow(o)) {
                return false;
            }
            let is_open =
                |side, event, k: &Known| open.iter().any(|o| o.side == side && o.event == event && o.doubt == k.doubt);
            let mut pair = self.opened(&c.pair, is_open);
            pair.hostile = true;
            // contacts that must be alike besides would have to be so from the start
            let mut relation = c.relation.clone();
            if matching::close(&pair, &mut relation, effort).is_err() || relation.alike != c.relation.alike {
                return false;
            }
            let more: Vec<Open> = self
                .open_in(&pair, &c.relation, effort)
                .into_iter()
                .filter(|o| o.side != ORIGINAL || o.typically.is_none())
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
        let pair = self.opened(&run.pair, |side, _, k| side == ORIGINAL && k.outcome().is_none());
        pair.machines[ORIGINAL].opened.as_ref().filter(|o| o.has_either())?;
        run.pair = Arc::new(pair.clone());
        (!matches!(run.explain(effort), Explained::Not)).then_some(pair)
    }

    /// All that is open on the original's side by structure.
    pub(super) fn of_original(&self) -> Vec<Open> {
        self.of(|side, _, k| side == ORIGINAL && k.outcome().is_none() && k.said.is_none())
    }

    /// What typical delays decided in states that the proof allows, and what is left open.
    pub(super) fn told(&self, open: Vec<Open>, pair: &Pair, circuits: [&Circuit; 2]) -> (Vec<Typical>, Vec<Open>) {
        let (decided, open): (Vec<Open>, Vec<Open>) =
            open.into_iter().partition(|o| o.side == ORIGINAL && o.typically.is_some());
        let told = self.grouped(&decided, pair, circuits).into_iter().filter_map(|(finding, members)| {
            let all = members.iter().filter_map(|&i| decided.get(i)?.typically);
            let by = all.min_by(|a, b| a.spread.total_cmp(&b.spread))?;
            Some(Typical { finding, by })
        });
        (told.collect(), open)
    }

    /// What is followed against what the phases have, in words.
    pub(super) fn orders(&self, pair: &Pair, circuits: [&Circuit; 2]) -> Vec<String> {
        let mut all = Vec::new();
        for outcome in [Outcome::New, Outcome::Pulse, Outcome::NoPulse] {
            let followed = self.of(|_, _, k| k.outcome() == Some(outcome));
            let findings = self.findings(&followed, pair, circuits);
            all.extend(findings.into_iter().map(|h| format!("{}: {outcome}", h.call)));
        }
        all
    }

    /// What is open as findings, by which a proof is withheld.
    pub(super) fn findings(&self, open: &[Open], pair: &Pair, circuits: [&Circuit; 2]) -> Vec<Hidden> {
        self.grouped(open, pair, circuits).into_iter().map(|g| g.0).collect()
    }

    /// Findings with the doubts that each stands for: what one net does that pulses, or registers that were written at
    /// one place and race on one way.
    fn grouped(&self, open: &[Open], pair: &Pair, circuits: [&Circuit; 2]) -> Vec<(Hidden, Vec<usize>)> {
        let mut groups: Vec<(Vec<usize>, Vec<&str>)> = Vec::new();
        for (i, o) in open.iter().enumerate() {
            let name = self.named(o, circuits[o.side]);
            let same = |(members, _): &&mut (Vec<usize>, Vec<&str>)| {
                members.first().and_then(|&f| open.get(f)).is_some_and(|f| self.is_one(f, o, circuits[o.side]))
            };
            match groups.iter_mut().find(same) {
                Some((members, names)) => {
                    members.push(i);
                    if !names.contains(&name) {
                        names.push(name);
                    }
                }
                None => groups.push((vec![i], vec![name])),
            }
        }
        let mut all: Vec<(Hidden, Vec<usize>)> = Vec::new();
        for (members, names) in groups {
            let Some(o) = members.first().and_then(|&i| open.get(i)) else { continue };
            let contacts = pair.events.get(o.event).map_or(&[][..], |e| &e.contacts);
            let contacts = contacts.iter().filter_map(|&c| pair.contacts.get(c));
            let event: Vec<String> = contacts.map(|c| acknowledge::contact(&c.label, &c.name)).collect();
            let event = event.join(", ");
            let of = if o.side == ORIGINAL { Of::Original } else { Of::Replacement };
            let mut reaches: Vec<String> = Vec::new();
            for o in members.iter().filter_map(|&i| open.get(i)) {
                if let Rule::Pulse(role) = o.doubt.rule {
                    reaches.push(format!("the {role} of `{}`", o.doubt.name(circuits[o.side])));
                }
            }
            let name = names.first().copied().unwrap_or("?").to_owned();
            let others: Vec<String> = names.iter().skip(1).map(|n| (*n).to_owned()).collect();
            let call = call::written(o.doubt.rule, &name, others.len(), of, &event);
            let at_net = matches!(o.doubt.rule, Rule::Pulse(_))
                && o.doubt.first.last().is_some_and(|&s| self.ways[o.side].is_net(s));
            let [first, second] = [&o.doubt.first, &o.doubt.second].map(|way| self.names(o.side, way));
            let why = Why::Order { rule: o.doubt.rule, event, at_net, first, second };
            all.push((Hidden { of, call, name, others, why, reaches }, members));
        }
        all.sort();
        all
    }

    /// Signals of one side by name.
    pub(super) fn names(&self, side: usize, way: &[Signal]) -> Vec<String> {
        way.iter().map(|&s| self.ways[side].name(s).to_owned()).collect()
    }

    /// What a finding of this doubt is about: what pulses, or the register, latch or loop.
    fn named<'a>(&'a self, o: &Open, circuit: &'a Circuit) -> &'a str {
        match (o.doubt.rule, o.doubt.first.last()) {
            (Rule::Pulse(_), Some(&pulses)) => self.ways[o.side].name(pulses),
            _ => o.doubt.name(circuit),
        }
    }

    /// Whether two doubts are one finding.
    fn is_one(&self, a: &Open, b: &Open, circuit: &Circuit) -> bool {
        if (a.side, a.event) != (b.side, b.event) {
            return false;
        }
        let (one, other) = (&a.doubt, &b.doubt);
        match (one.rule, other.rule) {
            (Rule::Pulse(_), Rule::Pulse(_)) => one.first.last() == other.first.last(),
            (x, y) if x != y => false,
            _ => match (one.site, other.site) {
                (Site::Element(x), Site::Element(y)) => {
                    let origin = |e: ElementId| circuit.elements().get(e.index()).map(|e| &e.origin);
                    one.first == other.first && origin(x) == origin(y)
                }
                (x, y) => x == y,
            },
        }
    }
}

/// What is asked of each of these doubts of one side in one kind of event, and where it does not come to rest.
fn wherever<'k>(
    context: &mut Context,
    (machine, moving, case, side): (&Machine, &Moving, &Case, usize),
    of: Vec<&'k Known>,
    when: impl Fn(&mut Waves<'_, Symbolic<'_>>, &Doubt) -> Term,
) -> Vec<((usize, &'k Known), Term)> {
    let points = &context.points;
    let before = |n: NodeId| machine.value(&points[side], n);
    let mut algebra = Symbolic::new(&mut context.terms, Freedom::Usual);
    let mut waves = Waves::new(&mut algebra, machine, moving, &before, &case.films[side]);
    let all: Vec<(&Known, Term)> = of.into_iter().map(|known| (known, when(&mut waves, &known.doubt))).collect();
    all.into_iter().map(|(known, term)| ((side, known), context.terms.or(term, case.unsettled[side]))).collect()
}

/// What can matter, in the order given: asked for together, and each answer tells which to ask about again.
pub(super) fn possible<T>(context: &mut Context, solver: &mut Solver, may: Term, asked: Vec<(T, Term)>) -> Vec<T> {
    let mut matters = vec![false; asked.len()];
    loop {
        let left = asked.iter().zip(&matters).filter(|(_, m)| !**m).map(|((_, t), _)| *t);
        let any = context.terms.any(left);
        match context.ask(solver, &[may, any]) {
            Answer::No => break,
            Answer::Yes(values) => {
                let value = |v: u32| values.get(v as usize).copied().unwrap_or(false);
                let at = Assignment::of(&context.terms, asked.iter().map(|(_, term)| *term), value);
                let before = matters.clone();
                matters.iter_mut().zip(&asked).for_each(|(m, (_, term))| *m |= at.value(*term));
                if matters == before {
                    // no answer to the question: what can't be excluded is open
                    matters.fill(true);
                    break;
                }
            }
            // one by one: what the solver can't exclude is open
            Answer::Unknown(_) => {
                for (m, (_, term)) in matters.iter_mut().zip(&asked).filter(|(m, _)| !**m) {
                    *m = !matches!(context.ask(solver, &[may, *term]), Answer::No);
                }
                break;
            }
        }
    }
    asked.into_iter().zip(matters).filter(|(_, m)| *m).map(|((what, _), _)| what).collect()
}

/// No invariant: every settled state that keeps the assumptions.
pub(super) fn anything(pair: &Pair) -> Vec<Class> {
    let cells = (0..2).flat_map(|s| (0..pair.machines[s].cells().len()).map(move |c| (s, c)));
    cells.map(|bit| Class { bits: vec![(bit, false)], is_constant: false }).collect()
}
