//! The prover's verdict on one pair, held against judges that share nothing with it: the walk, the second solver on the
//! obligations, and a simulator from outside.
use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::time::{Duration, Instant};

use gluewright::circuit::{Circuit, Label};
use gluewright::prove::{Failure, Proof, Question, Refutation};
use gluewright::solver::Effort;

use crate::gates::Numbers;
use crate::icarus;
use crate::script::{Answer, Script};
use crate::slice::slices;
use crate::walk::{Allowed, Found, Sequence, Walk};

/// Verdicts counted, and everything that was wrong with one.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Pairs that were asked about.
    pub tried: usize,
    /// Refuted.
    pub refuted: usize,
    /// Of these, those whose sequence replays in the walk: no run of the original shows it.
    pub replayed: usize,
    /// Of these, those whose sequence was found to be the shortest, too.
    pub shortest: usize,
    /// Refuted, and in the simulator from outside no start of the original shows the sequence.
    pub replayed_outside: usize,
    /// Refuted, and replayed by neither: what it is, and how many starts of it the product's own simulator counts.
    pub alone: Vec<String>,
    /// Proved, or proved but for what settling hides.
    pub equal: usize,
    /// Of these, those that hide something which nobody has acknowledged.
    pub withheld: Vec<String>,
    /// Proved, and walked through every state.
    pub walked: usize,
    /// Proved, too large for the walk as a whole, and walked through every state contact by contact.
    pub walked_in_slices: usize,
    /// Proved, and a second solver agrees with every obligation.
    pub resolved: usize,
    /// Proved by structure alone: there is nothing to ask a second solver.
    pub structural: usize,
    /// Proved, and in the simulator from outside some start of the original shows the same in every drawn run.
    pub ran_outside: usize,
    /// Proved, too many starts for that, and so contact by contact.
    pub ran_outside_in_slices: usize,
    /// Proved, and drawn runs are explained by the walk.
    pub sampled: usize,
    /// Proved, and neither walked nor seen in the simulator: only the second solver, or nobody.
    pub unseen: Vec<String>,
    /// Events that were compared in the simulator from outside.
    pub events: u64,
    /// Undecided.
    pub undecided: Vec<String>,
    /// Undecided, and the walk finds that the replacement does not always come to rest: neither verdict would be right.
    pub restless: Vec<String>,
    /// Refused: the question makes no sense, as a replacement that never rests.
    pub refused: Vec<String>,
    /// Proved, though a critical race of the replacement decides: the two orders of settling that the walk tries are both
    /// explained, but the rules ask for none.
    pub raced: Vec<String>,
    /// Wrong, with what it was.
    pub wrong: Vec<String>,
}

impl Tally {
    /// Adds another's counts.
    pub fn add(&mut self, other: Tally) {
        self.tried += other.tried;
        self.refuted += other.refuted;
        self.replayed += other.replayed;
        self.shortest += other.shortest;
        self.replayed_outside += other.replayed_outside;
        self.alone.extend(other.alone);
        self.equal += other.equal;
        self.withheld.extend(other.withheld);
        self.walked += other.walked;
        self.walked_in_slices += other.walked_in_slices;
        self.resolved += other.resolved;
        self.structural += other.structural;
        self.ran_outside += other.ran_outside;
        self.ran_outside_in_slices += other.ran_outside_in_slices;
        self.sampled += other.sampled;
        self.unseen.extend(other.unseen);
        self.events += other.events;
        self.undecided.extend(other.undecided);
        self.restless.extend(other.restless);
        self.refused.extend(other.refused);
        self.raced.extend(other.raced);
        self.wrong.extend(other.wrong);
    }

    /// The counts in one line.
    pub fn line(&self) -> String {
        format!(
            "tried {}: refuted {} (replayed by the walk {}, shortest by both {}, replayed outside {}, by neither {}), equal {} \
             (walked {}, in slices {}, second solver {}, by structure {}, outside {}, outside in slices {}, drawn {}, withheld {}, seen by none {}), \
             undecided {}, undecided as it never rests {}, refused {}, in spite of a race {}, wrong {}; {} events outside",
            self.tried,
            self.refuted,
            self.replayed,
            self.shortest,
            self.replayed_outside,
            self.alone.len(),
            self.equal,
            self.walked,
            self.walked_in_slices,
            self.resolved,
            self.structural,
            self.ran_outside,
            self.ran_outside_in_slices,
            self.sampled,
            self.withheld.len(),
            self.unseen.len(),
            self.undecided.len(),
            self.restless.len(),
            self.refused.len(),
            self.raced.len(),
            self.wrong.len(),
            self.events
        )
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{}", self.line())?;
        let lists = [
            ("refuted, replayed by nobody else", &self.alone),
            ("proved, seen by nobody else", &self.unseen),
            ("withheld", &self.withheld),
            ("undecided", &self.undecided),
            ("never rests", &self.restless),
            ("refused", &self.refused),
            ("race", &self.raced),
            ("WRONG", &self.wrong),
        ];
        for (word, list) in lists {
            for what in list {
                writeln!(f, "  {word}: {what}")?;
            }
        }
        Ok(())
    }
}

/// A refutation's sequence, as the walk takes it.
pub fn sequence(r: &Refutation) -> Sequence {
    let plain = |l: &[(Label, String, bool)]| l.iter().map(|(label, _, high)| (label.clone(), *high)).collect();
    Sequence { levels: plain(&r.levels), events: r.events.iter().map(|e| plain(&e.changes)).collect() }
}

/// How far a question goes.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// Joint states of the walk.
    pub states: usize,
    /// Events of the prover's search.
    pub depth: usize,
    /// For the prover with one question, and once more for the walk.
    pub time: Duration,
    /// Of this, for the walk over a proved pair as a whole, before it is walked contact by contact.
    pub whole: Duration,
    /// Whether the walk looks for a shorter sequence than a refutation's.
    pub shortest: bool,
    /// Drawn runs in the simulator from outside, and events in each; none: it is not asked.
    pub outside: (usize, usize),
}

/// A pair and what is asked about it.
#[derive(Clone, Copy)]
pub struct Case<'c> {
    /// What it is, for a person.
    pub what: &'c str,
    /// The original.
    pub original: &'c Circuit,
    /// The replacement.
    pub replacement: &'c Circuit,
    /// Whether the board keeps to these levels; the question assumes the same.
    pub allowed: &'c Allowed,
    /// What was found of slices before, by what they are: of use where many changes leave most slices alone. Only for
    /// pairs under the same assumptions, and these may name no contact.
    pub known: Option<&'c Known>,
}

/// Slices by their text, with whether the walk got to the end of them, and whether they ran outside.
pub type Known = RefCell<HashMap<String, [bool; 2]>>;

impl std::fmt::Debug for Case<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.what)
    }
}

/// Asks the prover and the others about one pair, of settled levels alone.
pub fn judge(what: &str, original: &Circuit, replacement: &Circuit, bounds: Bounds) -> Tally {
    let question = Question::new(original.clone(), replacement.clone()).settled_only().to_depth(bounds.depth);
    let question = question.within(Effort { milliseconds: 3_000, ..Effort::default() }).in_time(bounds.time);
    judge_answer(Case { what, original, replacement, allowed: &|_| true, known: None }, question.ask(), bounds)
}

/// Asks the others about what the prover has answered.
pub fn judge_answer(case: Case<'_>, answer: Result<Proof, Failure>, bounds: Bounds) -> Tally {
    let mut judging = Judging { case, bounds, t: Tally { tried: 1, ..Tally::default() } };
    match answer {
        Ok(proof) => judging.proved(&proof),
        Err(Failure::Withheld(w)) => {
            let names: Vec<&str> = w.hidden.iter().map(|h| h.name.as_str()).collect();
            judging.t.withheld.push(format!("{}: {}", case.what, names.join(", ")));
            judging.proved(&w.proof);
        }
        Err(Failure::Refuted(r)) => judging.refuted(&r),
        Err(Failure::Undecided(u)) => {
            let what = format!("{}; {}", u.obligation, u.tried.join("; "));
            match judging.walk().run() {
                Found::Restless => judging.t.restless.push(format!("{}: {what}", case.what)),
                found => judging.t.undecided.push(format!("{}: {found:?}: {what}", case.what)),
            }
        }
        Err(Failure::Refused(why)) if why.contains("mistake of the prover") => judging.wrong(&why),
        Err(other) => judging.t.refused.push(format!("{}: {other}", case.what)),
    }
    judging.t
}

struct Judging<'c> {
    case: Case<'c>,
    bounds: Bounds,
    t: Tally,
}

impl<'c> Judging<'c> {
    fn walk_of<'w>(&self, original: &'w Circuit, replacement: &'w Circuit) -> Walk<'w>
    where
        'c: 'w,
    {
        let until = Some(Instant::now() + self.bounds.time);
        Walk { allowed: self.case.allowed, until, ..Walk::new(original, replacement, self.bounds.states) }
    }

    fn walk(&self) -> Walk<'c> {
        self.walk_of(self.case.original, self.case.replacement)
    }

    fn wrong(&mut self, why: &str) {
        self.t.wrong.push(format!("{}: {why}", self.case.what));
    }

    fn proved(&mut self, proof: &Proof) {
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

    /// Each output by itself, with what it hangs on: whether every one was walked to its end, and whether every one ran
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

    fn refuted(&mut self, r: &Refutation) {
        self.t.refuted = 1;
        let sequence = sequence(r);
        let mut replayed = self.walk().replays(&sequence, &r.start);
        if replayed.is_none() {
            // what can't be shown at one of its contacts can't be shown at all
            replayed = r.differences.iter().find_map(|d| {
                let [original, replacement] = slices(self.case.original, self.case.replacement, [d.label.clone()]);
                self.walk_of(&original, &replacement).replays(&sequence, &r.start).filter(|replays| *replays)
            });
        }
        match replayed {
            Some(false) => {
                return self.wrong(&format!("refuted, but the walk explains it, {:?}: {r}", self.walk().run()));
            }
            None => {}
            Some(true) => {
                self.t.replayed = 1;
                match if self.bounds.shortest { self.walk().run() } else { Found::TooLarge } {
                    Found::Differs(s) if r.shortest && s.events.len() != r.events.len() => {
                        let (claimed, found) = (r.events.len(), s.events.len());
                        self.wrong(&format!("no shorter than {claimed} claimed, {found} found: {s:?} {r}"));
                    }
                    Found::Differs(_) => self.t.shortest = usize::from(r.shortest),
                    Found::Refines(_) => self.wrong(&format!("refuted, but the walk finds nothing: {r}")),
                    _ => {}
                }
            }
        }
        let counts = r.replay();
        if let Some(counts) = &counts
            && counts.last() != Some(&0)
        {
            self.wrong(&format!("the simulator finds a start that explains {r}"));
        }
        if self.bounds.outside.0 > 0 {
            self.replays_outside(r, sequence);
        }
        if self.t.replayed + self.t.replayed_outside == 0 {
            let starts = counts.map_or("too many starts or an unknown".to_owned(), |c| format!("{c:?} starts alive"));
            self.t.alone.push(format!("{}: {starts}: {r}", self.case.what));
        }
    }

    fn replays_outside(&mut self, r: &Refutation, sequence: Sequence) {
        if !icarus::is_there() {
            return;
        }
        let run = icarus::Run { sequence, start: r.start.clone() };
        let labels: Vec<Label> = r.differences.iter().map(|d| d.label.clone()).collect();
        // one contact that nothing explains is enough, and has fewer starts: it comes first
        let one = labels.first().map(|l| slices(self.case.original, self.case.replacement, [l.clone()]));
        let whole = [self.case.original.clone(), self.case.replacement.clone()];
        for (of_all, [original, replacement]) in
            [(false, one), (true, Some(whole))].into_iter().filter_map(|(k, p)| Some((k, p?)))
        {
            let Some(pair) = icarus::Pair::new(&original, &replacement, 12) else { continue };
            let counted = match pair.count(std::slice::from_ref(&run), true) {
                Ok(counted) => counted,
                Err(e) => {
                    println!("{}: {e}", self.case.what);
                    continue;
                }
            };
            // where it does not come to rest out there, nothing was compared any more
            let whole_run = |c: &&icarus::Counted| c.alive == 0 || c.events == run.sequence.events.len() as u64;
            let Some(c) = counted.first().filter(whole_run) else { continue };
            if of_all && c.alive > 0 && !c.guessed && !c.neither {
                return self.wrong(&format!("refuted, but a start of the original shows it outside: {c:?}: {r}"));
            }
            if c.alive == 0 && c.open == 0 && !c.neither {
                self.t.replayed_outside = 1;
                return;
            }
        }
    }
}
