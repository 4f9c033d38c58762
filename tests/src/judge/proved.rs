//! A pair that was proved, held against the walk, the second solver and the simulator from outside.
use std::collections::BTreeSet;
use std::time::Instant;

use gluewright::circuit::{Circuit, Label};
use gluewright::prove::Proof;

use super::case::Judging;
use crate::gates::Numbers;
use crate::icarus;
use crate::script::{Answer, Script};
use crate::slice::slices;
use crate::walk::{Found, Walk};

impl Judging<'_> {
    pub(super) fn proved(&mut self, proof: &Proof) {
        self.t.equal = 1;
        self.second_solver(proof);
        let mut seen = false;
        let whole = Walk { until: Some(Instant::now() + self.bounds.whole), ..self.walk() };
        match whole.run() {
            Found::TooLarge => {
                let whole = self.runs_outside(self.case.original, self.case.replacement);
                let [walked, outside] = self.in_slices(self.bounds.outside.0 > 0 && whole.is_none());
                self.t.walked_in_slices = usize::from(walked);
                self.t.ran_outside = usize::from(whole == Some(true));
                self.t.ran_outside_in_slices = usize::from(outside);
                seen = self.drawn_runs() || walked || outside || whole == Some(true);
            }
            found => {
                match found {
                    Found::Refines(_) => (self.t.walked, seen) = (1, true),
                    Found::Race("original") => seen = self.drawn_runs(),
                    Found::Race(_) => self.t.raced.push(self.case.what.to_owned()),
                    other => self.wrong(&format!("proved, but {other:?}")),
                }
                let outside = self.runs_outside(self.case.original, self.case.replacement) == Some(true);
                self.t.ran_outside = usize::from(outside);
                seen |= outside;
            }
        }
        if !seen {
            self.t.unseen.push(self.case.what.to_owned());
        }
    }

    /// The obligations once more, by a solver that is not the product's.
    fn second_solver(&mut self, proof: &Proof) {
        let obligations = proof.obligations();
        let script = match Script::read(&proof.smt2()) {
            Ok(script) if script.checks.len() == obligations.len() => script,
            other => {
                return self.wrong(&format!("the proof's script can't be read: {:?}", other.map(|s| s.checks.len())));
            }
        };
        for (check, obligation) in script.checks.iter().zip(&obligations) {
            if check.by_sat() != Answer::Unsat {
                self.wrong(&format!(
                    "proved, but a second solver finds that {} can be: {}",
                    obligation.never, obligation.event
                ));
            }
        }
        match (obligations.is_empty(), &proof.method) {
            (false, _) => self.t.resolved = 1,
            (true, gluewright::prove::Method::Induction) => self.t.structural = 1,
            (true, _) => {}
        }
    }

    /// Each output by itself, with what it depends on: whether every one was walked to its end, and whether every one ran
    /// outside. One that is refuted refutes the whole.
    fn in_slices(&mut self, outside: bool) -> [bool; 2] {
        let outputs = self.case.original.contacts().iter().chain(self.case.replacement.contacts());
        let labels: BTreeSet<Label> = outputs.map(|c| c.label.clone()).collect();
        let until = Instant::now() + self.bounds.time;
        let mut all = [true, outside];
        let mut done = BTreeSet::new();
        for label in labels {
            let [original, replacement] = slices(self.case.original, self.case.replacement, [label.clone()]);
            // contacts that are read back share a slice, and slices of inputs alone show nothing
            let shown: BTreeSet<Label> = original.contacts().iter().map(|c| c.label.clone()).collect();
            if !done.insert(shown) {
                continue;
            }
            let key = icarus::Pair::new(&original, &replacement, usize::MAX).map(|p| p.key()).unwrap_or_default();
            let known = self.case.known.and_then(|k| k.borrow().get(&key).copied());
            let mut found = known.unwrap_or_default();
            if !found[0] {
                let walk = Walk { until: Some(until), ..self.walk_of(&original, &replacement) };
                match walk.run() {
                    Found::Refines(_) => found[0] = true,
                    Found::Differs(s) => {
                        self.wrong(&format!("proved, but contact {label} by itself differs: {s:?}"));
                        return [false, false];
                    }
                    Found::TooLarge | Found::Race(_) | Found::Restless => {}
                }
            }
            if outside && !found[1] {
                found[1] = self.runs_outside(&original, &replacement) == Some(true);
            }
            if let Some(known) = self.case.known {
                known.borrow_mut().insert(key, found);
            }
            all = [all[0] && found[0], all[1] && found[1]];
        }
        all
    }

    /// Drawn runs, explained by the walk.
    fn drawn_runs(&mut self) -> bool {
        let mut numbers = Numbers(1);
        let runs: Vec<_> = (0..6).map(|_| self.walk().explains_drawn(&mut numbers, 60)).collect();
        if runs.contains(&Some(false)) {
            self.wrong("proved, but a drawn run is not explained");
        }
        self.t.sampled = usize::from(runs.contains(&Some(true)));
        self.t.sampled == 1
    }

    /// Drawn runs in the simulator from outside: whether a start of the original shows the same in each. Nothing if it is
    /// not there, not wanted, or has too many starts to try.
    fn runs_outside(&mut self, original: &Circuit, replacement: &Circuit) -> Option<bool> {
        let (runs, events) = self.bounds.outside;
        if runs == 0 || !icarus::is_there() {
            return None;
        }
        let pair = icarus::Pair::new(original, replacement, 12)?;
        let walk = self.walk_of(original, replacement);
        let runs = icarus::drawn(&walk, runs, events, &mut Numbers(1984));
        let counted = match pair.count(&runs, false) {
            Ok(counted) => counted,
            Err(e) => {
                println!("{}: {e}", self.case.what);
                return Some(false);
            }
        };
        for (c, run) in counted.iter().zip(&runs) {
            if c.alive == 0 && c.open == 0 && !c.neither {
                self.wrong(&format!("proved, but no start of the original shows a run outside: {c:?}, {run:?}"));
            }
        }
        let good = counted.iter().filter(|c| c.alive > 0);
        self.t.events += good.clone().map(|c| c.events).sum::<u64>();
        Some(good.count() == counted.len())
    }
}
