//! The way to a verdict on one property: cut down, decide, ask what delays decide, ask whether its cases come about.
use std::time::Instant;

use crate::circuit::{Circuit, Label};
use crate::limit::Limit;
use crate::machine::Machine;
use crate::prove::acknowledge::{Names, called, covered, is_covered};
use crate::prove::hidden::{self, Hidden, Of};
use crate::prove::pair::{ORIGINAL, Pair, REPLACEMENT};
use crate::prove::time::{Open, Timed};
use crate::prove::{Question, Refusal, Typical, call, sanity};
use crate::solver::{Effort, watched};

use super::bounded::Found;
use super::decide::{Asked, Because, Decided, decide};
use super::doubt;
use super::drawn::{Drawn, drawn};
use super::frames::Cube;
use super::monitor::Watched;
use super::report::sequence;
use super::unroll::{Run, Subject, Wanted};
use super::verdict::{Broken, Case, Held, How};
use super::words::Property;

/// Depth to which runs are searched in which a case of a property comes about.
const CASES: usize = 12;

/// How often a property is asked about again while more is found to depend on delays.
const ROUNDS: usize = 6;

/// All that one property is asked with.
struct Asking<'q> {
    question: &'q Question,
    watched: Watched,
    side: usize,
    effort: Effort,
    words: String,
    name: String,
    asked: Asked,
    began: Instant,
}

impl Question {
    /// Does the circuit on this side keep the property by itself?
    pub(in crate::prove) fn keeps(&self, property: &Property, of: Of) -> Result<Held, Broken> {
        let question = self.with_wires();
        let limit = self.time.map_or_else(Limit::default, Limit::within).or_when(self.stop).and(self.effort.limit);
        watched(limit, || question.kept_within(property, of, limit))
    }

    fn kept_within(&self, property: &Property, of: Of, limit: Limit) -> Result<Held, Broken> {
        let began = Instant::now();
        let circuit = if of == Of::Original { &self.original } else { &self.replacement };
        circuit.check().map_err(|what| Broken::Refused(Refusal::Malformed { side: of, what }))?;
        self.contacts_are_there().map_err(Broken::Refused)?;
        let mut named: Vec<Label> = self.groups.iter().flatten().cloned().collect();
        self.assumptions.iter().for_each(|a| a.holds.contacts(&mut named));
        self.restrictions.iter().for_each(|r| r.all_contacts(&mut named));
        let asking = Asking {
            question: self,
            watched: Watched::new(circuit, property, &named),
            side: if of == Of::Original { ORIGINAL } else { REPLACEMENT },
            effort: Effort { limit, ..self.effort },
            words: property.words(circuit),
            name: circuit.name.clone(),
            asked: Asked::default(),
            began,
        };
        asking.run(limit)
    }
}

fn refused(why: String) -> Broken {
    Broken::Refused(Refusal::Acknowledgement(why))
}

/// What is known of the order of changes by now.
struct Order {
    timed: Option<Timed>,
    /// Doubts that are followed both ways.
    either: Vec<Open>,
}

impl Asking<'_> {
    fn of(&self) -> Of {
        if self.side == ORIGINAL { Of::Original } else { Of::Replacement }
    }

    fn subject<'s>(&'s self, pair: &'s Pair, wanted: Wanted<'s>) -> Subject<'s> {
        Subject { pair, side: self.side, monitor: &self.watched.monitor, wanted }
    }

    fn run(mut self, limit: Limit) -> Result<Held, Broken> {
        let nothing = Circuit::new("nothing");
        let own = self.watched.circuit.clone();
        let circuits = if self.side == ORIGINAL { [&own, &nothing] } else { [&nothing, &own] };
        let q = self.question;
        let mut pair = Pair::new(
            Machine::new(circuits[0]),
            Machine::new(circuits[1]),
            q.assumptions.clone(),
            q.restrictions.clone(),
            &q.groups,
        );
        pair.limit = limit;
        let mut timed = (!q.all_acknowledged).then(|| Timed::new(&mut pair, circuits, !q.by_causality));
        self.acknowledge(timed.as_mut(), &pair, circuits)?;
        if let Some(timed) = &timed {
            pair = timed.followed(&pair);
        }
        sanity::check(&pair, self.effort).map_err(Broken::Refused)?;
        let base = pair.clone();
        let mut order = Order { timed, either: Vec::new() };
        let deepest = q.deepest;
        for _ in 0..ROUNDS {
            let cases = self.watched.cases.len();
            let drawn = drawn(&self.subject(&pair, Wanted::Broken), cases);
            let mut asked = self.asked;
            let subject = self.subject(&pair, Wanted::Broken);
            let decided = decide(&subject, drawn.broken.as_ref(), deepest, (self.effort, &mut asked));
            self.asked = asked;
            let because = match decided {
                Decided::Comes(found, shortest) => match self.comes(&pair, &base, &mut order, &found, shortest) {
                    Some(verdict) => return verdict,
                    None => {
                        pair = self.followed(&order, &base);
                        continue;
                    }
                },
                Decided::Restless(run) => return Err(self.restless(&pair, &run)),
                Decided::Open(tried, searched) => match drawn.broken.clone().and_then(|run| self.shown(&pair, run)) {
                    Some(found) => match self.comes(&pair, &base, &mut order, &found, false) {
                        Some(verdict) => return verdict,
                        None => {
                            pair = self.followed(&order, &base);
                            continue;
                        }
                    },
                    None => {
                        let (property, circuit) = (self.words.clone(), self.name.clone());
                        return Err(Broken::Undecided { property, circuit, tried, searched });
                    }
                },
                Decided::Never(because) => because,
            };
            match self.order(&pair, circuits, &mut order, &because) {
                Ordered::Again => {
                    pair = self.followed(&order, &base);
                }
                Ordered::Stands { typical, findings, hidden } => {
                    let held = self.held(&pair, because, typical, findings);
                    return self.complete(&pair, circuits, (held, hidden), &drawn);
                }
            }
        }
        let (property, circuit) = (self.words.clone(), self.name.clone());
        let tried = vec![format!("more and more was found to hang on delays, {ROUNDS} times")];
        Err(Broken::Undecided { property, circuit, tried, searched: None })
    }

    /// The pair with what is known followed, and what is open both ways.
    fn followed(&self, order: &Order, base: &Pair) -> Pair {
        match &order.timed {
            None => base.clone(),
            Some(timed) => timed.opened(base, |side, event, k| {
                order.either.iter().any(|o| o.side == side && o.event == event && o.doubt == k.doubt)
            }),
        }
    }

    /// Takes what is acknowledged of the order of changes, and refuses names that nothing has.
    fn acknowledge(&self, timed: Option<&mut Timed>, pair: &Pair, circuits: [&Circuit; 2]) -> Result<(), Broken> {
        let q = self.question;
        let Some(timed) = timed else { return Ok(()) };
        let left = timed.heed(pair, circuits, (&q.acknowledged, q.another_form)).map_err(refused)?;
        let names = Names::new([&q.original, &q.replacement]);
        // an acknowledgement of another property's order says nothing of this one
        for name in left.iter().filter(|a| !call::is_of_time(a)) {
            names.check(name).map_err(refused)?;
        }
        Ok(())
    }

    /// A drawn run as one that was found, if it replays.
    fn shown(&self, pair: &Pair, run: Run) -> Option<Found> {
        let subject = self.subject(pair, Wanted::Broken);
        subject.show(run)
    }

    /// What was looked for came. Nothing if it may come otherwise by what typical delays say.
    fn comes(
        &mut self,
        pair: &Pair,
        base: &Pair,
        order: &mut Order,
        found: &Found,
        shortest: bool,
    ) -> Option<Result<Held, Broken>> {
        let _ = base;
        if let Some(timed) = &mut order.timed {
            let side = self.side;
            let typical = timed.of(|s, _, k| s == side && k.said.is_none());
            let typical: Vec<Open> = typical.into_iter().filter(|o| o.typically.is_some()).collect();
            if side == ORIGINAL && timed.heed_typical(&typical) {
                return None;
            }
        }
        // one way of several that delays leave open is no refutation of a board, but no proof either: it is told as found
        let subject = self.subject(pair, Wanted::Broken);
        if found.met.is_empty() && !subject.replay(&found.run) {
            let mistake = "a run that the solver found does not replay in the simulator".to_owned();
            return Some(Err(Broken::Refused(Refusal::Mistake(mistake))));
        }
        let assumptions = self.assumptions();
        let run = sequence(&subject, &self.watched, found, (&self.words, &self.name, &assumptions, shortest));
        if !self.watched.monitor.is_reachable() {
            return Some(Err(Broken::Refuted(Box::new(run))));
        }
        let mut held = self.held(pair, Because::Steps(0), Vec::new(), Vec::new());
        held.how = How::Reached(Box::new(run));
        Some(Ok(held))
    }

    fn order(&mut self, pair: &Pair, circuits: [&Circuit; 2], order: &mut Order, because: &Because) -> Ordered {
        let none = Ordered::Stands { typical: Vec::new(), findings: Vec::new(), hidden: Vec::new() };
        let Some(timed) = &mut order.timed else { return none };
        let subject = Subject { pair, side: self.side, monitor: &self.watched.monitor, wanted: Wanted::Broken };
        let open = doubt::open(&subject, timed, because, (self.effort, &mut self.asked));
        if self.side == ORIGINAL && timed.heed_typical(&open) {
            return Ordered::Again;
        }
        let (typical, open) = timed.told(open, pair, circuits);
        let known = |o: &Open| order.either.iter().any(|e| e.event == o.event && e.doubt == o.doubt);
        let (followed, fresh): (Vec<Open>, Vec<Open>) = open.into_iter().partition(known);
        let words = |open: &[Open]| timed.findings(open, pair, circuits);
        if fresh.is_empty() {
            let findings = words(&followed).iter().map(|h| format!("{h}: either way the property holds")).collect();
            return Ordered::Stands { typical, findings, hidden: Vec::new() };
        }
        let acknowledged = |h: &Hidden| is_covered(&self.question.acknowledged, h);
        if words(&fresh).iter().all(acknowledged) {
            return Ordered::Stands { typical, findings: Vec::new(), hidden: Vec::new() };
        }
        if fresh.iter().all(|o| timed.can_follow(o)) {
            order.either.extend(fresh);
            return Ordered::Again;
        }
        Ordered::Stands { typical, findings: Vec::new(), hidden: words(&fresh) }
    }

    fn assumptions(&self) -> Vec<String> {
        let levels = self.question.assumptions.iter().map(|a| a.text.clone());
        levels.chain(self.question.restrictions.iter().map(|r| r.text.clone())).collect()
    }

    fn held(&self, pair: &Pair, because: Because, typical: Vec<Typical>, findings: Vec<String>) -> Held {
        let how = match because {
            Because::Steps(steps) => How::Induction { steps },
            Because::Invariant(cubes) => How::Invariant { never: cubes.iter().map(|c| self.cube(pair, c)).collect() },
        };
        Held {
            property: self.words.clone(),
            circuit: self.name.clone(),
            assumptions: self.assumptions(),
            acknowledged: self.question.acknowledged.clone(),
            how,
            cases: Vec::new(),
            typical,
            findings,
            questions: self.asked.solver,
            time: self.began.elapsed(),
        }
    }

    /// A combination that can't be reached, in words.
    fn cube(&self, pair: &Pair, cube: &Cube) -> String {
        let machine = &pair.machines[self.side];
        let contacts = pair.contacts.iter().filter(|c| c.is_free).map(|c| c.name.clone());
        let cells = machine.cells().iter().map(|c| c.name.clone());
        let names: Vec<String> = contacts.chain(cells).collect();
        let marks = names.len();
        let words = cube.iter().map(|&(i, high)| match names.get(i) {
            Some(name) => format!("{name} {}", if high { "high" } else { "low" }),
            None => format!("{}what was seen ({})", if high { "" } else { "not " }, i - marks + 1),
        });
        words.collect::<Vec<_>>().join(" ∧ ")
    }

    fn restless(&self, pair: &Pair, run: &Run) -> Broken {
        let named = |&(c, high): &(usize, bool)| {
            let contact = &pair.contacts[c];
            format!("{} {} {}", contact.label, contact.name, if high { "high" } else { "low" })
        };
        let free = (0..pair.contacts.len()).filter(|&c| pair.contacts[c].is_free);
        let levels: Vec<String> = free.map(|c| named(&(c, run.levels[c]))).collect();
        let steps: Vec<String> =
            run.events.iter().map(|e| e.iter().map(named).collect::<Vec<_>>().join(" and ")).collect();
        let way = match steps.is_empty() {
            true => format!("at power-up with {}", levels.join(", ")),
            false => format!("from power-up with {}, once {}", levels.join(", "), steps.join(", then ")),
        };
        Broken::Restless { property: self.words.clone(), circuit: self.name.clone(), way }
    }

    /// A proof that stands: does anything hide in it, and do its cases come about?
    fn complete(
        mut self,
        pair: &Pair,
        circuits: [&Circuit; 2],
        (mut held, open): (Held, Vec<Hidden>),
        drawn: &Drawn,
    ) -> Result<Held, Broken> {
        let q = self.question;
        let names = Names::new([&q.original, &q.replacement]);
        let mut hidden = open;
        if !q.all_acknowledged {
            let machine = &pair.machines[self.side];
            let constants = hidden::constants(self.of(), circuits[self.side], machine, pair.ample(), self.effort);
            // that a condition is constant is what was proved
            let first = machine.ports().len().saturating_sub(self.watched.monitor.count());
            let is_condition = |h: &Hidden| machine.ports().iter().skip(first).any(|p| p.name == h.name);
            hidden.extend(constants.into_iter().filter(|h| !is_condition(h)));
        }
        called(&mut hidden, &names);
        let mut left = covered(&q.acknowledged, &hidden).map_err(refused)?.into_iter();
        hidden.retain(|_| left.next() == Some(false));
        let mut never = Vec::new();
        if !self.watched.monitor.is_reachable() {
            for (i, what) in self.watched.cases.clone().into_iter().enumerate() {
                let after = match drawn.cases.get(i) {
                    Some(Some(run)) => Some(run.events.len()),
                    _ => {
                        let mut asked = self.asked;
                        let subject = self.subject(pair, Wanted::Case(i));
                        let came = decide(&subject, None, CASES, (self.effort, &mut asked));
                        self.asked = asked;
                        match came {
                            Decided::Comes(found, _) => Some(found.run.events.len()),
                            Decided::Never(_) if i < self.watched.monitor.conjuncts() => {
                                held.findings
                                    .push(format!("it holds because this never comes about by itself: {what}"));
                                continue;
                            }
                            Decided::Never(_) => {
                                never.push(what);
                                continue;
                            }
                            Decided::Restless(_) | Decided::Open(..) => None,
                        }
                    }
                };
                held.cases.push(Case { what, after });
            }
        }
        held.questions = self.asked.solver;
        held.time = self.began.elapsed();
        if !hidden.is_empty() {
            return Err(Broken::Withheld { hidden, held: Box::new(held) });
        }
        if !never.is_empty() {
            return Err(Broken::Vacuous { held: Box::new(held), never });
        }
        if self.watched.monitor.is_reachable() {
            return Err(Broken::Unreachable(Box::new(held)));
        }
        Ok(held)
    }
}

/// What the order of changes makes of a proof.
enum Ordered {
    /// More is followed now: ask again.
    Again,
    /// It stands, but for what is hidden.
    Stands { typical: Vec<Typical>, findings: Vec<String>, hidden: Vec<Hidden> },
}
