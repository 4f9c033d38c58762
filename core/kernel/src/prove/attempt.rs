//! The way to a verdict: a seed, induction over matched bits, and what is tried when that stays open.
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Instant;

use crate::machine::Place;

use super::candidates::{self, Partner};
use super::correspond;
use super::draw::Draw;
use super::drawn;
use super::liar;
use super::matching::{self, Open, Relation};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};
use super::progress::Step;
use super::refine::{self, Refined, refine};
use super::run::{Explained, Run};
use super::search::{Search, Searched};
use super::signature;
use super::start::{self, Begin, Starts};
use super::strengthen::strengthen;
use super::walk::{self, Budget, Walked};
use super::{Failure, Oscillation, Proof, Question, Refusal, SIDES, Undecided, oscillation, sanity};

pub(super) struct Attempt<'q> {
    /// The question as it was put.
    pub(super) asked: &'q Question,
    /// The same about the live parts of its circuits.
    pub(super) question: &'q Question,
    pub(super) pair: Arc<Pair>,
    pub(super) began: Instant,
    pub(super) tried: Vec<String>,
    /// Which cells are likely to correspond, once somebody asked.
    pub(super) partners: Vec<Partner>,
    /// Whether the question is about one of several parts that have nothing in common but inputs.
    pub(super) is_part: bool,
    /// No run of up to this many events is a refutation.
    pub(super) searched: Option<usize>,
    /// Places that a walk visited.
    pub(super) visited: usize,
    /// What of the prover itself was not checked.
    pub(super) unchecked: Vec<String>,
}

/// A relation that is not inductive, and a start of the original for bits that it leaves out.
type Left = (Relation, Vec<Begin>);

/// A pair of states that match, as far as a drawn run tells, and how to draw on.
pub(super) struct Seed {
    levels: Vec<u64>,
    original: Vec<bool>,
    replacement: Vec<bool>,
    draw: Draw,
    /// The matching that induction was left with.
    relation: Relation,
}

/// What was tried several times with the same outcome, once.
fn once_each(tried: Vec<String>) -> Vec<String> {
    let mut seen = std::collections::BTreeSet::new();
    tried.into_iter().filter(|t| seen.insert(t.clone())).collect()
}

/// All cells of the original begin as in one start.
fn with(start: &[bool]) -> Vec<Begin> {
    start.iter().map(|&b| Begin::With(b)).collect()
}

/// A walk of this many runs is tried before anything that takes longer.
const SHORT_WALK: usize = 1 << 15;

/// How often the symbolic rounds are doubled before a side is said not to settle.
pub(super) const PATIENCE: u32 = 3;

/// Steps of the solver for one question while a shorter run is looked for than one that is known.
pub(super) const POLISH: u32 = 20_000_000;

/// The most starts that a matching excludes and that refine it.
const REFINEMENTS: usize = 16;

/// Events of the run from which the matching is guessed.
const RUN: usize = 200;

/// A pair with more kinds of events than this is large: hidden bits get likely starts at once.
const LARGE: usize = 16;

impl<'q> Attempt<'q> {
    pub(super) fn new(asked: &'q Question, question: &'q Question, pair: Arc<Pair>, began: Instant) -> Self {
        let (tried, partners) = (Vec::new(), Vec::new());
        Attempt {
            asked,
            question,
            pair,
            began,
            tried,
            partners,
            is_part: false,
            searched: None,
            visited: 0,
            unchecked: Vec::new(),
        }
    }

    pub(super) fn run(mut self) -> Result<Proof, Failure> {
        let effort = self.question.effort;
        sanity::check(&self.pair, effort).map_err(Failure::Refused)?;
        let circuits = [&self.question.original, &self.question.replacement];
        for (circuit, machine) in circuits.into_iter().zip(&self.pair.machines) {
            self.unchecked.extend(sanity::reflexive(circuit, machine, effort).map_err(Failure::Refused)?);
        }
        let mut draw = Draw::new(1984);
        let levels = draw.levels(&self.pair).ok_or_else(|| Failure::Refused(Refusal::Narrow))?;
        for lap in 0..=PATIENCE {
            self.question.watcher.tell(&Step::Matching { attempt: lap as usize + 1 });
            let Some((run, seed, answers_alike)) = self.seed(&levels, &mut draw) else {
                self.tried.push("a drawn run: the replacement does not come to rest at power-up".to_owned());
                return self.decide(None, None);
            };
            let start = match seed {
                Explained::From(start) => start,
                Explained::Not if liar::is_lying() => self.pair.starts(ORIGINAL, |v| v, |_| false),
                Explained::Not => return self.decide(None, Some(run)),
                Explained::Unknown(why) => {
                    self.tried.push(format!("a start of the original for a drawn run: the solver gave up ({why})"));
                    return self.decide(None, None);
                }
            };
            let word = |b: &bool| if *b { u64::MAX } else { 0 };
            let first: Vec<u64> = run.levels.iter().map(word).collect();
            let mut start = start;
            let mut relation = Relation::default();
            let mut doubled = false;
            // in a large pair a drawn run never shows everything
            let large = self.pair.events.len() > LARGE && !answers_alike;
            for attempt in usize::from(large)..3 {
                let cells = |start: &[bool]| -> [Vec<u64>; 2] {
                    [start.iter().map(word).collect(), run.cells.iter().map(word).collect()]
                };
                if attempt > 0 {
                    // bits that the run did not show were given any start: give them their likely partner's, then what
                    // other runs from there show
                    let found = candidates::partners(&self.pair, &first, &cells(&start), &mut draw);
                    let partners = [self.staying(), found].concat();
                    let wishes = candidates::wishes(&partners, &run.cells);
                    let more = if attempt == 1 {
                        Vec::new()
                    } else {
                        refine::drawn(&self.pair, (&run.levels, &run.cells), &mut draw)
                    };
                    let runs: Vec<&Run> = std::iter::once(&run).chain(&more).collect();
                    match Run::explain_together(&runs, &wishes, effort) {
                        Some(better) if (large && attempt == 1) || better != start => start = better,
                        _ if attempt == 1 => continue,
                        _ => break,
                    }
                }
                let mut guess = candidates::guess(&self.pair, &first, &cells(&start), &mut draw);
                let mut left = REFINEMENTS;
                let outcome = loop {
                    let (refined, outcome) = matching::induct(&self.pair, guess, effort);
                    relation = refined;
                    let Ok(closed) = outcome else { break outcome };
                    let unmatched = match self.starts(&relation, (&first, &cells(&start)), &start) {
                        (Starts::Matched, begins) => return Ok(self.proof(relation, begins, &closed)),
                        (Starts::Open(why, unmatched), _) => {
                            self.tried.push(format!("induction over matched bits: closed; power-up: {why}"));
                            unmatched
                        }
                        (Starts::GaveUp(why), _) => {
                            self.tried.push(format!("power-up: the solver gave up ({why})"));
                            None
                        }
                    };
                    let Some(unmatched) = unmatched.filter(|_| left > 0) else { break Ok(closed) };
                    left -= 1;
                    let partners = candidates::partners(&self.pair, &first, &cells(&start), &mut draw);
                    match refine(&self.pair, &relation.classes, unmatched, (&partners, &mut draw), effort) {
                        Refined::Classes(classes) => guess = classes,
                        Refined::Refuted(run) => return self.decide(None, Some(run)),
                        Refined::Same => break Ok(closed),
                    }
                };
                match outcome {
                    Ok(_) => {}
                    Err(Open::Restless(side)) if lap < PATIENCE => {
                        self.tried
                            .push(format!("settling of the {} within {} phases", SIDES[side], self.pair.limits.phases));
                        let mut pair = (*self.pair).clone();
                        pair.limits.phases *= 2;
                        pair.limits.iterations *= 2;
                        self.pair = Arc::new(pair);
                        doubled = true;
                        break;
                    }
                    Err(Open::Restless(side)) => {
                        self.tried.push(format!(
                            "the {} does not come to rest in every state that the induction allows",
                            SIDES[side]
                        ));
                    }
                    Err(Open::Contacts(contacts)) => {
                        let names: Vec<_> = contacts.iter().map(|&c| self.pair.contacts[c].name.clone()).collect();
                        self.tried.push(format!("induction over matched bits: open at {}", names.join(", ")));
                    }
                    Err(Open::GaveUp(why)) => self.tried.push(format!("induction: the solver gave up ({why})")),
                }
            }
            if doubled {
                continue;
            }
            let seed = Seed { levels: first, original: start, replacement: run.cells, draw, relation };
            return self.decide(Some(seed), None);
        }
        self.decide(None, None)
    }

    /// Whether every start of the replacement has one of the original in a relation, from a pair of states that match.
    fn starts(
        &self,
        relation: &Relation,
        (levels, cells): (&[u64], &[Vec<u64>; 2]),
        start: &[bool],
    ) -> (Starts, Vec<Vec<Begin>>) {
        let mut begins = vec![with(start)];
        let partners = || {
            let found = candidates::partners(&self.pair, levels, cells, &mut Draw::new(1984));
            [self.staying(), found].concat()
        };
        let starts = start::check(&self.pair, relation, &mut begins, partners, self.question.effort);
        (starts, begins)
    }

    /// A long drawn run of the replacement, a start of the original that explains it, and whether all bits of it were given by
    /// [signature]. Nothing if the replacement does not even come to rest at power-up.
    fn seed(&self, levels: &[u64], draw: &mut Draw) -> Option<(Run, Explained, bool)> {
        let pair = &self.pair;
        let now: Vec<u64> = levels.iter().map(|&w| if w & 1 == 1 { u64::MAX } else { 0 }).collect();
        let first: Vec<bool> = now.iter().map(|&w| w & 1 == 1).collect();
        let cells = pair.starts(REPLACEMENT, |v| v, |_| draw.word() & 1 == 1);
        let events = draw.events(pair, &now, &cells, RUN);
        let run = Run::record(pair, first, cells, events)?;
        let staying = self.staying();
        // mostly cells that respond alike correspond, and no query is needed for a start
        let alike = [staying.clone(), signature::partners(pair, &mut Draw::new(1984))].concat();
        let wishes: BTreeMap<usize, bool> = candidates::wishes(&alike, &run.cells).into_iter().rev().collect();
        let start = pair.starts(ORIGINAL, |v| v, |cell| wishes.get(&cell) == Some(&true));
        if run.is_explained_by(&start) {
            let all = start.len() == wishes.len();
            return Some((run, Explained::From(start), all));
        }
        let alike = (!staying.is_empty())
            .then(|| run.explain_with(&candidates::wishes(&staying, &run.cells), self.question.effort));
        let explained = alike.flatten().map_or_else(|| run.explain(self.question.effort), Explained::From);
        Some((run, explained, false))
    }

    /// The cells of packages that stay, each with the same one on the other side.
    fn staying(&self) -> Vec<Partner> {
        let staying = &self.question.staying;
        if staying.is_empty() {
            return Vec::new();
        }
        let [original, replacement] = [ORIGINAL, REPLACEMENT].map(|side| {
            let named = self.pair.machines[side].cells().iter().enumerate();
            let named = named.filter(|(_, cell)| staying.contains(&cell.name));
            named.map(|(at, cell)| ((cell.name.as_str(), matches!(cell.place, Place::Mark(_))), at))
        });
        let of: BTreeMap<(&str, bool), usize> = replacement.collect();
        original.filter_map(|(named, at)| Some((at, *of.get(&named)?, false))).collect()
    }

    /// What induction left open: by a walk if the pair is small, by search, by a longer walk. `known` is a run that
    /// nothing explains, but longer than need be.
    fn decide(mut self, seed: Option<Seed>, known: Option<Run>) -> Result<Proof, Failure> {
        if !self.is_part
            && let Some(verdict) = self.in_parts()
        {
            // parts that were walked have no certificate together; a walk of the whole has its table
            let is_bare = verdict.as_ref().is_ok_and(|proof| proof.certificate.is_none());
            let whole = if is_bare { self.walk(self.question.walk.min(SHORT_WALK)) } else { None };
            return whole.filter(Result::is_ok).unwrap_or(verdict);
        }
        let partners = self.partners(seed.as_ref());
        self.partners.clone_from(&partners);
        let short = self.question.walk.min(SHORT_WALK);
        if let Some(verdict) = self.walk(short) {
            return verdict;
        }
        let known = known.or_else(|| self.drawn(seed.as_ref()?)).map(|k| k.shorten(self.question.effort));
        let mut follow = None;
        match seed {
            // what is refuted needs no invariant
            Some(seed) if known.is_some() => follow = Some((seed.relation, with(&seed.original))),
            Some(seed) => match self.strengthened(seed) {
                Ok(proof) => return Ok(*proof),
                Err(left) => follow = Some(left),
            },
            None => {}
        }
        let deepest = known.as_ref().map_or(self.question.deepest, |k| k.events.len().min(self.question.deepest));
        // put into words while there is time for it
        let known = known.map(|run| (self.in_words(run.clone(), false), run));
        let pair = Arc::clone(&self.pair);
        let mut effort = self.question.effort;
        if known.is_some() && (effort.steps == 0 || effort.steps > POLISH) {
            effort.steps = POLISH;
        }
        let mut search = Search::new(&pair, &partners, effort);
        if let Some((relation, begin)) = follow {
            search.follow(&relation, &[begin]);
        }
        match search.run(deepest, &self.question.watcher) {
            Searched::Found(run) => {
                return Err(Failure::Refuted(Box::new(self.refutation(run, search.is_shortest()))));
            }
            Searched::NothingTo(n) => {
                self.searched = Some(n);
                self.tried.push(format!("search for a refutation: none with up to {n} events"));
            }
            Searched::GaveUp(n, why) => {
                self.searched = n.checked_sub(1);
                self.tried.push(format!("search for a refutation: gave up at {n} events ({why})"));
            }
        }
        if let Some((in_words, run)) = known {
            let mut refutation = match self.pair.limit.over() {
                Some(_) => in_words,
                None => self.refutation(run, false),
            };
            // the search came as far as this run, and found none that is shorter
            let shorter = refutation.events.len().checked_sub(1);
            refutation.shortest = search.is_shortest() && self.searched >= shorter;
            return Err(Failure::Refuted(Box::new(refutation)));
        }
        if short < self.question.walk
            && let Some(verdict) = self.walk(self.question.walk)
        {
            return verdict;
        }
        Err(self.undecided(None))
    }

    /// A run that nothing explains, drawn from a pair of states that match.
    fn drawn(&self, seed: &Seed) -> Option<Run> {
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let cells = [&seed.original, &seed.replacement].map(|c| c.iter().map(word).collect());
        drawn::search(&self.pair, &seed.levels, &cells, &mut seed.draw.clone(), self.question.effort)
    }

    /// Which cells are likely to correspond: from a pair of states that match, or else from any.
    pub(super) fn partners(&self, seed: Option<&Seed>) -> Vec<Partner> {
        let mut draw = Draw::new(1984);
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let (levels, cells) = match seed {
            Some(seed) => {
                (Some(seed.levels.clone()), [&seed.original, &seed.replacement].map(|c| c.iter().map(word).collect()))
            }
            None => {
                let levels = draw.levels(&self.pair);
                (levels, [0, 1].map(|side| self.pair.starts(side, |v| word(&v), |_| draw.word())))
            }
        };
        let mut partners = self.staying();
        if let Some(levels) = levels {
            partners.extend(candidates::partners(&self.pair, &levels, &cells, &mut draw));
            partners.extend(correspond::likely(&self.pair, &partners, &mut draw));
        }
        partners
    }

    /// Induction with what bits in different codes take together; if it stays open, the relation that is left, and a start
    /// of the original for what it leaves out.
    fn strengthened(&mut self, mut seed: Seed) -> Result<Box<Proof>, Left> {
        let effort = self.question.effort;
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let cells = [&seed.original, &seed.replacement].map(|c| c.iter().map(word).collect::<Vec<u64>>());
        let what = "induction with what bits in different codes take together";
        let Some(s) = strengthen(&self.pair, &seed.levels, &cells, &mut seed.draw, effort) else {
            return Err((seed.relation, with(&seed.original)));
        };
        match s.outcome {
            Ok(closed) => match self.starts(&s.relation, (&seed.levels, &cells), &seed.original) {
                (Starts::Matched, begins) => return Ok(Box::new(self.proof(s.relation, begins, &closed))),
                (Starts::Open(why, _), _) => self.tried.push(format!("{what}: closed; power-up: {why}")),
                (Starts::GaveUp(why), _) => {
                    self.tried.push(format!("{what}: closed; power-up: the solver gave up ({why})"))
                }
            },
            Err(Open::Contacts(contacts)) => {
                let names: Vec<_> = contacts.iter().map(|&c| self.pair.contacts[c].name.clone()).collect();
                self.tried.push(format!("{what}: open at {}", names.join(", ")));
            }
            Err(Open::Restless(side)) => self.tried.push(format!("{what}: the {} may not come to rest", SIDES[side])),
            Err(Open::GaveUp(why)) => self.tried.push(format!("{what}: {why}")),
        }
        Err((s.relation, with(&seed.original)))
    }

    pub(super) fn undecided(&mut self, obligation: Option<String>) -> Failure {
        let restless = oscillation::drawn(&self.pair, [&self.question.original, &self.question.replacement]);
        let obligation = obligation.or_else(|| self.tried.first().cloned()).unwrap_or_default();
        let help = "a deeper search, more time for the solver, a longer walk, or a replacement whose registers are closer to \
                    the original's";
        let tried = once_each(std::mem::take(&mut self.tried));
        let (searched, visited) = (self.searched, self.visited);
        let undecided =
            Undecided { obligation, tried, searched, visited, help: help.to_owned(), ..Undecided::default() };
        Failure::Undecided(restless.map_or(undecided.clone(), |restless| undecided.because(restless)))
    }

    /// Walks over the pair's states; `None` if that leads nowhere.
    pub(super) fn walk(&mut self, runs: usize) -> Option<Result<Proof, Failure>> {
        let budget = Budget { runs };
        self.question.watcher.tell(&Step::Walking { runs });
        match walk::walk(&self.pair, budget) {
            Walked::Closed(facts) => Some(Ok(self.walked(facts))),
            Walked::Found(run) => match run.explain(self.question.effort) {
                // found one way, confirmed another
                Explained::Not => Some(Err(Failure::Refuted(Box::new(self.refutation(run, true))))),
                Explained::Unknown(why) => {
                    self.tried.push(format!("a walk over all states: found a run that nothing explains, but the solver gave up on confirming it ({why})"));
                    None
                }
                Explained::From(_) => {
                    Some(Err(Failure::Refused(Refusal::Mistake("walk and solver disagree about a run".to_owned()))))
                }
            },
            Walked::Restless(side, run) => {
                let way = self.way(&run);
                self.tried.push("a walk over all states".to_owned());
                let circuit = [&self.question.original, &self.question.replacement][side];
                let restless = oscillation::after(&self.pair, circuit, side, &run, way);
                let tried = std::mem::take(&mut self.tried);
                let undecided =
                    Undecided { tried, searched: self.searched, visited: self.visited, ..Undecided::default() };
                Some(Err(Failure::Undecided(undecided.because(restless))))
            }
            Walked::Beyond(why, places) => {
                self.visited = self.visited.max(places);
                self.tried.push(format!("a walk over all states: {why}"));
                None
            }
        }
    }
}

impl Undecided {
    /// Undecided because a side oscillates.
    fn because(self, restless: Oscillation) -> Self {
        Undecided { obligation: restless.to_string(), help: restless.help(), restless: Some(restless), ..self }
    }
}
