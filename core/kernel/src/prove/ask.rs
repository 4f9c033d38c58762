//! Asking: what is checked before the way to a verdict, and what may withhold a proof after it.
use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Instant;

use crate::limit::Limit;
use crate::machine::Machine;
use crate::solver::{Effort, watched};

use super::acknowledge::{Names, called, contact_of, covered, is_covered};
use super::attempt::Attempt;
use super::hidden::{self, Hidden, Of, Why};
use super::pair::{Compared, ORIGINAL, Pair};
use super::partial;
use super::{Failure, Proof, Question, Refusal, Refutation, Withheld, call, in_turn, pulses, time, vacuity};

impl Question {
    /// Asks.
    ///
    /// # Errors
    /// Refuted, undecided, withheld, proved in part only, or refused.
    pub fn ask(&self) -> Result<Proof, Failure> {
        self.with_wires().put(|attempt| attempt.run())
    }

    /// The original as a real board of it goes: where cause and effect leave the order of changes open, as it was measured and
    /// acknowledged, or as typical delays of its parts decide; where somebody acknowledged that it may be either, either way.
    pub fn original_in_time(&self) -> Machine {
        let circuits = [&self.original, &self.replacement];
        let machines = circuits.map(Machine::new);
        let [original, replacement] = machines;
        let mut pair =
            Pair::new(original, replacement, self.assumptions.clone(), self.restrictions.clone(), &self.groups);
        let mut timed = time::Timed::new(&mut pair, circuits, !self.by_causality);
        // what does not fit is refused where the question is asked
        let _ = timed.heed(&pair, circuits, (&self.acknowledged, self.another_form));
        let machines = timed.of_the_board(&pair).machines;
        let [original, _] = machines;
        original
    }

    /// Asks by nothing but a walk over all states, of as many runs as [`walking`](Question::walking) says: slow, and an
    /// opinion of its own.
    ///
    /// # Errors
    /// As for [`ask`](Question::ask); undecided if the pair is too large for the walk.
    pub fn ask_by_walk(&self) -> Result<Proof, Failure> {
        self.with_wires().put(|mut attempt| match attempt.walk(attempt.question.walk) {
            Some(verdict) => verdict,
            None => Err(attempt.undecided(None)),
        })
    }

    /// Asks part by part at once, without an induction over the whole before; nothing if it does not fall apart.
    #[cfg(test)]
    pub(super) fn ask_in_parts(&self) -> Option<Result<Proof, Failure>> {
        let falls_apart = std::cell::Cell::new(true);
        let verdict = self.put(|mut attempt| match attempt.in_parts() {
            Some(verdict) => verdict,
            None => {
                falls_apart.set(false);
                Err(attempt.undecided(None))
            }
        });
        falls_apart.get().then_some(verdict)
    }

    fn put(&self, ask: impl Fn(Attempt<'_>) -> Result<Proof, Failure>) -> Result<Proof, Failure> {
        let began = Instant::now();
        for (side, circuit) in [(Of::Original, &self.original), (Of::Replacement, &self.replacement)] {
            circuit.check().map_err(|what| Failure::Refused(Refusal::Malformed { side, what }))?;
        }
        self.contacts_are_there().map_err(Failure::Refused)?;
        // logic that no contact can show would only add bits to match, to start and to walk through; but a replacement
        // must come to rest everywhere
        let (original, replacement) = (self.original.live(), self.replacement.live_and_restless());
        let mut pair = Pair::new(
            Machine::new(&original),
            Machine::new(&replacement),
            self.assumptions.clone(),
            self.restrictions.clone(),
            &self.groups,
        );
        let limit = self.time.map_or_else(Limit::default, Limit::within).or_when(self.stop).and(self.effort.limit);
        pair.limit = limit;
        let circuits = [&original, &replacement];
        let mut timed = (!self.all_acknowledged).then(|| time::Timed::new(&mut pair, circuits, !self.by_causality));
        let refused = |why| Failure::Refused(Refusal::Acknowledgement(why));
        // acknowledgements with an outcome of the order of changes are followed; the others are names
        let mut by_name = self.acknowledged.clone();
        if let Some(timed) = &mut timed {
            by_name = timed.heed(&pair, circuits, (&self.acknowledged, self.another_form)).map_err(refused)?;
            pair = timed.followed(&pair);
        }
        let names = Names::new([&self.original, &self.replacement]);
        for acknowledged in &by_name {
            names.check(acknowledged).map_err(refused)?;
        }
        for acknowledged in &by_name {
            let known = pair.contacts.iter().enumerate().map(|(i, c)| (i, &c.label, pair.names_of(c)));
            let found = contact_of(acknowledged, known);
            if let Some(contact) = found.map_err(refused)? {
                pair.contacts[contact].compared = Compared::Settled;
            }
        }
        let left_out = partial::left_out(&self.original, &pair, &self.untraced);
        for left in &left_out {
            pair.leave_out(left.contact);
        }
        let effort = Effort { limit, ..self.effort };
        let question = Question { original, replacement, effort, ..self.clone() };
        watched(limit, || question.verdict(self, (Arc::new(pair), timed), ask, (left_out, &names), began))
    }

    /// The verdict on what is left of a question, from a proof of it and what that hides.
    fn verdict(
        &self,
        asked: &Question,
        (mut pair, timed): (Arc<Pair>, Option<time::Timed>),
        ask: impl Fn(Attempt<'_>) -> Result<Proof, Failure>,
        (left_out, names): (Vec<partial::LeftOut>, &Names),
        began: Instant,
    ) -> Result<Proof, Failure> {
        let effort = self.effort;
        let refused = |why| Failure::Refused(Refusal::Acknowledgement(why));
        let mut hidden = self.hidden(&pair);
        called(&mut hidden, names);
        covered(&self.acknowledged, &hidden).map_err(refused)?;
        let circuits = [&self.original, &self.replacement];
        let attempt = |pair: Arc<Pair>| Attempt::new(asked, self, pair, began);
        let mut first = ask(attempt(Arc::clone(&pair)));
        let Some(mut timed) = timed else {
            let proof = first?;
            hidden.extend(vacuity::alarms(&pair, proof.constant().as_deref(), effort));
            return self.complete(proof, hidden, left_out, (names, &BTreeSet::new()));
        };
        // a refutation that rests on a pulse that may not come, and the contacts at which it may not
        let mut faded: Option<(Box<Refutation>, Vec<usize>)> = None;
        let (mut proof, open) = loop {
            match first {
                Ok(proof) => {
                    let open = timed.open(&pair, &proof, effort);
                    if !timed.heed_typical(&open) {
                        break (proof, open);
                    }
                }
                Err(Failure::Refuted(refutation)) => {
                    if !timed.doubts_refutation(&refutation, effort) {
                        // an order that the original's delays leave open may explain the run: then it is no refutation,
                        // and a proof is withheld
                        let excused = timed.excuse(&refutation, effort);
                        let Some(excused) = excused else {
                            let fades = pulses::excuse(&timed, &pair, &self.original, (&refutation, effort));
                            let mut refutation = refutation;
                            refutation.orders = timed.orders(&pair, circuits);
                            let Some((without, contacts)) = fades else { return Err(Failure::Refuted(refutation)) };
                            pair = Arc::new(without);
                            first = ask(attempt(Arc::clone(&pair)));
                            faded.get_or_insert_with(|| (refutation, Vec::new())).1.extend(contacts);
                            continue;
                        };
                        pair = Arc::new(excused);
                        let proof = ask(attempt(Arc::clone(&pair)))?;
                        let mut open = timed.open(&pair, &proof, effort);
                        if open.iter().all(|o| o.side != ORIGINAL) {
                            open.extend(timed.of_original());
                        }
                        break (proof, open);
                    }
                }
                Err(other) => return Err(other),
            }
            // again, with what typical delays say
            pair = Arc::new(timed.followed(&pair));
            first = ask(attempt(Arc::clone(&pair)));
        };
        let may_fade = pulses::told(&timed, &pair, (&self.original, &proof, effort), |c| {
            pair.is_compared_throughout(c) || faded.iter().any(|(_, contacts)| contacts.contains(&c))
        });
        if let Some((refutation, contacts)) = faded
            && !contacts.iter().any(|c| may_fade.iter().any(|(faded, _)| faded == c))
        {
            return Err(Failure::Refuted(refutation));
        }
        hidden.extend(may_fade.into_iter().map(|(_, finding)| finding));
        hidden.extend(vacuity::alarms(&pair, proof.constant().as_deref(), effort));
        let (typical, open) = timed.told(open, &pair, circuits);
        proof.typical = typical;
        proof.orders = timed.orders(&pair, circuits);
        let found = timed.findings(&open, &pair, circuits);
        let (in_turn, remarks) = in_turn::told(&timed, &pair, (circuits, &proof), effort);
        proof.findings.extend(remarks);
        let known = |h: &Hidden| self.acknowledged.iter().any(|a| call::covers(a, h, self.another_form));
        hidden.extend(in_turn.into_iter().filter(|h| !known(h)));
        let all_known = found.iter().all(|h| is_covered(&self.acknowledged, h));
        if !all_known && timed.holds_either_way(&proof, &open, effort) {
            proof.findings.extend(found.iter().map(|h| format!("{h}: either way the contacts show the same")));
        } else {
            hidden.extend(found);
        }
        self.complete(proof, hidden, left_out, (names, &timed.doubted(circuits)))
    }

    /// Nets that settling hides.
    fn hidden(&self, pair: &Pair) -> Vec<Hidden> {
        if self.all_acknowledged {
            return Vec::new();
        }
        let sides = [(Of::Original, &self.original), (Of::Replacement, &self.replacement)];
        let mut all = Vec::new();
        for ((of, circuit), machine) in sides.into_iter().zip(&pair.machines) {
            all.extend(hidden::constants(of, circuit, machine, pair.ample(), self.effort));
        }
        all
    }

    /// A proof that holds for the settled levels that were compared: is anything hidden or left out?
    fn complete(
        &self,
        mut proof: Proof,
        mut hidden: Vec<Hidden>,
        left_out: Vec<partial::LeftOut>,
        (names, doubted): (&Names, &BTreeSet<(Of, String)>),
    ) -> Result<Proof, Failure> {
        proof.acknowledged = self.acknowledged.clone();
        called(&mut proof.races, names);
        if !self.all_acknowledged {
            // races that the phases show are reported with their event, if they matter
            let told = |r: &Hidden| r.why == Why::Race && doubted.contains(&(r.of, r.name.clone()));
            let races = proof.races.iter().filter(|r| !told(r));
            let races: Vec<Hidden> = races.cloned().collect();
            hidden.extend(races);
        }
        called(&mut hidden, names);
        let covered = covered(&self.acknowledged, &hidden);
        let covered = covered.map_err(|why| Failure::Refused(Refusal::Acknowledgement(why)))?;
        let mut left = covered.into_iter();
        hidden.retain(|_| left.next() == Some(false));
        if !hidden.is_empty() {
            return Err(Failure::Withheld(Box::new(Withheld { hidden, proof })));
        }
        proof.left_out = left_out.into_iter().map(|l| l.words).collect();
        proof.untraced = self.untraced.iter().map(|g| g.why.clone()).collect();
        if !proof.is_whole() && !self.in_part {
            return Err(Failure::InPart(Box::new(proof)));
        }
        Ok(proof)
    }
}
