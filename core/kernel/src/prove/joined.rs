//! A pair that falls apart, decided part by part: what comes of the parts is the verdict on the whole.
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::machine::{Freedom, Machine, Symbolic};
use crate::solver::{Answer, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::attempt::{Attempt, POLISH};
use super::certificate::Apart;
use super::invariant::Cluster;
use super::matching::{self, Bit, Class, Relation};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};
use super::parts::{self, Part};
use super::progress::Step;
use super::run::{Explained, Run};
use super::start::{self, Begin, Starts};
use super::{Failure, Method, Proof, ProvedPart, Refusal, Undecided};

/// For each cell of a part, by side, the same cell of the whole; nothing if the whole has none.
type Cells = [Vec<Option<usize>>; 2];

/// What came of the parts so far.
#[derive(Default)]
struct Parts {
    proved: Vec<(Vec<String>, Cells, Proof)>,
    open: Vec<(Vec<String>, Undecided)>,
    /// A refutation of one part, as a run of the whole, and whether none of that part is shorter.
    refuted: Option<(Run, bool)>,
}

impl Attempt<'_> {
    /// Decides a pair that falls into parts which share nothing but inputs, each by itself. `None` if it does not fall
    /// apart, or if a refutation of a part could not be made one of the whole.
    pub(super) fn in_parts(&mut self) -> Option<Result<Proof, Failure>> {
        // where delays may decide either way, a bit may follow what it does not depend on
        if self.pair.machines.iter().any(|m| m.opened.is_some()) {
            return None;
        }
        let parts = parts::divide(self.question, &self.pair);
        let of = parts.len();
        let mut done = Parts::default();
        for (i, part) in parts.into_iter().enumerate() {
            let names = self.names(&part);
            self.question.watcher.tell(&Step::Part { number: i + 1, of, contacts: names.join(", ") });
            match self.decide_part(part, done.refuted.as_ref().map(|(run, _)| run.events.len())) {
                None => {}
                Some((_, cells, Ok(proof))) => done.proved.push((names, cells, proof)),
                Some((pair, cells, Err(Failure::Refuted(r)))) => {
                    let run = match self.lifted(&pair, &cells[REPLACEMENT], &r.run) {
                        Ok(run) => run,
                        Err(Some(refused)) => return Some(Err(refused)),
                        Err(None) => return None,
                    };
                    if done.refuted.as_ref().is_none_or(|(shortest, _)| run.events.len() < shortest.events.len()) {
                        done.refuted = Some((run, r.shortest));
                    }
                }
                Some((.., Err(Failure::Undecided(undecided)))) => done.open.push((names, undecided)),
                Some((.., Err(other))) => return Some(Err(other)),
            }
        }
        (of > 1).then(|| self.joined(done))
    }

    fn names(&self, part: &Part) -> Vec<String> {
        let contacts = self.pair.contacts.iter().filter(|c| part.contacts.contains(&c.label));
        contacts.map(|c| format!("{} {}", c.label, c.name)).collect()
    }

    /// The verdict on one part, with its pair; if a refutation of this many events is known, only whether there is a shorter
    /// one matters, and nothing comes back if there can't be.
    fn decide_part(&self, part: Part, known: Option<usize>) -> Option<(Arc<Pair>, Cells, Result<Proof, Failure>)> {
        let mut question = part.question;
        if let Some(events) = known {
            question.deepest = question.deepest.min(events.checked_sub(1)?);
            question.effort.steps = match question.effort.steps {
                0 => POLISH,
                steps => steps.min(POLISH),
            };
        }
        let mut pair = Pair::new(
            Machine::new(&question.original),
            Machine::new(&question.replacement),
            question.assumptions.clone(),
            question.restrictions.clone(),
            &question.groups,
        );
        for c in 0..pair.contacts.len() {
            let label = pair.contacts[c].label.clone();
            let whole = self.pair.contacts.iter().position(|w| w.label == label);
            match whole.filter(|&w| part.contacts.contains(&label) && !self.pair.is_left_out(w)) {
                Some(w) => pair.contacts[c].compared = self.pair.contacts[w].compared,
                None => pair.leave_out(c),
            }
        }
        pair.limit = self.pair.limit;
        let cells = [0, 1].map(|side: usize| {
            let whole = self.pair.machines[side].cells();
            let of = pair.machines[side].cells().iter().map(|c| part.origins[side].place(c.place));
            of.map(|place| whole.iter().position(|w| Some(w.place) == place)).collect()
        });
        let pair = Arc::new(pair);
        let mut attempt = Attempt::new(self.asked, &question, Arc::clone(&pair), self.began);
        attempt.is_part = true;
        let verdict = attempt.run();
        Some((pair, cells, verdict))
    }

    /// A run of a part that nothing explains, as one of the whole: other contacts keep still, other cells hold anything.
    fn lifted(&self, part: &Pair, of_cells: &[Option<usize>], run: &Run) -> Result<Run, Option<Failure>> {
        let whole = &*self.pair;
        let of: Vec<Option<usize>> =
            part.contacts.iter().map(|c| whole.contacts.iter().position(|w| w.label == c.label)).collect();
        let at = |c: usize| of.get(c).copied().flatten();
        let mut terms = Terms::new();
        let mut levels: Vec<Term> =
            whole.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
        for (c, &high) in run.levels.iter().enumerate() {
            if let Some(slot) = at(c).and_then(|w| levels.get_mut(w)) {
                *slot = Term::constant(high);
            }
        }
        let allowed = whole.allowed(&mut Symbolic::new(&mut terms, Freedom::Usual), &levels);
        let Answer::Yes(values) = Solver::new(self.question.effort).satisfy(&terms, &[allowed]) else {
            return Err(None);
        };
        let values = Assignment::new(&terms, |v| values.get(v as usize).copied().unwrap_or(false));
        let levels: Vec<bool> = levels.iter().map(|&t| values.value(t)).collect();
        let mut cells: Vec<bool> =
            whole.machines[REPLACEMENT].cells().iter().map(|cell| cell.start.unwrap_or(false)).collect();
        for (&of, &high) in of_cells.iter().zip(&run.cells) {
            let slot = of.and_then(|w| cells.get_mut(w)).ok_or(None)?;
            *slot = high;
        }
        let events: Vec<Vec<(usize, bool)>> = run
            .events
            .iter()
            .map(|event| event.iter().filter_map(|&(c, high)| Some((at(c)?, high))).collect())
            .collect();
        let mut lifted = Run::record(&self.pair, levels, cells, events).ok_or(None)?;
        if lifted.events.len() < run.events.len() {
            return Err(None);
        }
        // of the part's own contacts, what it showed: its unknowns may not have been as usual
        for (all, shown) in lifted.shown.iter_mut().zip(&run.shown) {
            for (c, seen) in shown.iter().enumerate().filter(|&(c, _)| !part.is_left_out(c)) {
                if let Some(slot) = at(c).and_then(|w| all.get_mut(w)) {
                    slot.clone_from(seen);
                }
            }
        }
        // found in the part, confirmed in the whole
        match lifted.explain(self.question.effort) {
            Explained::Not => Ok(lifted),
            Explained::Unknown(_) => Err(None),
            Explained::From(_) => {
                let why = "a part of the pair and the whole disagree about a run".to_owned();
                Err(Some(Failure::Refused(Refusal::Mistake(why))))
            }
        }
    }

    /// The verdict on the whole.
    fn joined(&mut self, done: Parts) -> Result<Proof, Failure> {
        if let Some((run, shortest)) = done.refuted {
            let shorter = run.events.len().checked_sub(1);
            // what the original likely held beside it, of the whole
            self.partners = self.partners(None);
            let none_shorter = done.open.iter().all(|(_, u)| u.searched >= shorter);
            return Err(Failure::Refuted(Box::new(self.refutation(run, shortest && none_shorter))));
        }
        let proved: Vec<String> = done.proved.iter().flat_map(|(names, ..)| names.iter().cloned()).collect();
        let mut open = done.open.into_iter();
        if let Some((names, first)) = open.next() {
            let mut undecided = Undecided { proved, ..first };
            undecided.obligation = format!("of {}: {}", names.join(", "), undecided.obligation);
            for (names, other) in open {
                let tried = other.tried.into_iter().map(|t| format!("of {}: {t}", names.join(", ")));
                undecided.tried.extend(tried);
                undecided.searched = undecided.searched.min(other.searched);
                undecided.visited += other.visited;
            }
            undecided.tried.splice(0..0, std::mem::take(&mut self.tried));
            return Err(Failure::Undecided(undecided));
        }
        Ok(self.together(done.proved))
    }

    /// One proof from those of all parts.
    fn together(&mut self, proofs: Vec<(Vec<String>, Cells, Proof)>) -> Proof {
        let walked: Vec<usize> = proofs
            .iter()
            .filter_map(|(.., p)| if let Method::Walk { places } = p.method { Some(places) } else { None })
            .collect();
        let mut all = match self.whole(&proofs) {
            Some(proof) => proof,
            None if walked.is_empty() => self.proved(Method::Induction, &[], &Default::default()),
            None => self.proved(Method::Walk { places: walked.iter().sum() }, &[], &Default::default()),
        };
        let is_whole = all.certificate.is_some();
        let mut findings: BTreeSet<String> = all.findings.iter().cloned().collect();
        for (contacts, _, proof) in proofs {
            if !is_whole {
                all.ground.apart.push(Apart::of(&proof));
            }
            all.parts.push(ProvedPart { contacts, method: proof.method });
            all.findings.extend(proof.findings.into_iter().filter(|f| findings.insert(f.clone())));
            all.figures.rounds += proof.figures.rounds;
            all.figures.questions += proof.figures.questions;
            all.figures.tables += proof.figures.tables;
            all.figures.structural += proof.figures.structural;
            if !is_whole {
                all.matches.extend(proof.matches);
                all.unknowns.extend(proof.unknowns);
                all.races.extend(proof.races);
            }
        }
        all
    }

    /// The relations of the parts as one of the whole, asked about again: so the whole has a certificate of its own, and
    /// nobody has to believe that parts may be taken by themselves. `None` if a part was not proved by induction, or if
    /// the whole cuts a loop elsewhere.
    fn whole(&mut self, proofs: &[(Vec<String>, Cells, Proof)]) -> Option<Proof> {
        let mut relation = Relation::default();
        let mut starts: Vec<Vec<Vec<(usize, Begin)>>> = Vec::new();
        let mut pair = (*self.pair).clone();
        let mut left: [BTreeSet<usize>; 2] = [0, 1].map(|s: usize| (0..pair.machines[s].cells().len()).collect());
        for (_, cells, proof) in proofs {
            let of = proof.certificate.as_ref()?;
            let at = |(side, cell): Bit| Some((side, (*cells.get(side)?.get(cell)?)?));
            let bits = |all: &[(Bit, bool)]| -> Option<Vec<(Bit, bool)>> {
                all.iter().map(|&(bit, opposite)| Some((at(bit)?, opposite))).collect()
            };
            let first = relation.classes.len();
            for class in &of.relation.classes {
                let bits = bits(&class.bits)?;
                if !bits.iter().all(|&((side, cell), _)| left[side].remove(&cell)) {
                    return None;
                }
                relation.classes.push(Class { bits, is_constant: class.is_constant });
            }
            for cluster in &of.relation.clusters {
                let classes = cluster.classes.iter().map(|i| first + i).collect();
                let (bits, points) = (bits(&cluster.bits)?, cluster.points.clone());
                relation.clusters.push(Cluster { classes, bits, points });
            }
            for &c in &of.relation.alike {
                relation.alike.push(pair.contact_at(&of.pair.contacts.get(c)?.label)?);
            }
            let begin = |begin: &Vec<Begin>| -> Option<Vec<(usize, Begin)>> {
                let each = begin.iter().enumerate().map(|(c, &begin)| {
                    let begin = match begin {
                        Begin::With(level) => Begin::With(level),
                        Begin::Like(cell, opposite) => Begin::Like(at((REPLACEMENT, cell))?.1, opposite),
                    };
                    Some((at((ORIGINAL, c))?.1, begin))
                });
                each.collect()
            };
            starts.push(of.begins.iter().map(begin).collect::<Option<_>>()?);
            let limits = of.pair.limits;
            pair.limits.phases = pair.limits.phases.max(limits.phases);
            pair.limits.iterations = pair.limits.iterations.max(limits.iterations);
        }
        for (side, left) in left.into_iter().enumerate() {
            let alone = |cell| Class { bits: vec![((side, cell), false)], is_constant: false };
            relation.classes.extend(left.into_iter().map(alone));
        }
        // as many starts as the part with the most has; what else they take together is found when it is missed
        let count = starts.iter().map(Vec::len).max()?;
        let mut begins = vec![vec![Begin::With(false); pair.machines[ORIGINAL].cells().len()]; count];
        for part in &starts {
            for (begin, of) in begins.iter_mut().zip(part.iter().cycle()) {
                for &(cell, value) in of {
                    *begin.get_mut(cell)? = value;
                }
            }
        }
        let effort = self.question.effort;
        let closed = matching::close(&pair, &mut relation, effort).ok()?;
        let partners = self.partners.clone();
        let starts = start::check(&pair, &relation, &mut begins, || partners, effort);
        if !matches!(starts, Starts::Matched) {
            return None;
        }
        self.pair = Arc::new(pair);
        Some(self.proof(relation, begins, &closed))
    }
}
