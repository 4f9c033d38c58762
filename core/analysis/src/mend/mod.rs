//! The change that would mend a refuted replacement: single edits of it, and of the trace, that turn the refutation into a
//! proof.
//!
//! Runs that refute come first: a change that leaves one of them unexplained is dropped without a question to the
//! solver. What passes is proved, with the same assumptions, or is not named.
mod filter;
mod follow;
mod fuses;
mod json;
mod several;
#[cfg(test)]
mod tests;
mod work;

use std::collections::{HashMap, HashSet};
use std::fmt;
use std::time::{Duration, Instant};

use crate::edit::{
    Edit, EditKind, OfSource, edits_by_line, edits_from_near, edits_of_source, effect, exchanges_of_ways, fingerprint,
};
use gluewright_devices::device::Device;
use gluewright_devices::fusefile::Fuses;
use gluewright_kernel::board::{Alteration, Board, Finding, Reach};
use gluewright_kernel::circuit::{By, Circuit, Driver, Expr, Label, Origin, Stage};
use gluewright_kernel::limit::Limit;
use gluewright_kernel::prove::{Failure, Proof, Question, Refutation};
use gluewright_kernel::solver::Effort;
use gluewright_kernel::threads::side_by_side;

use filter::Filter;
use fuses::FuseChange;
pub use several::{Agreement, Part};
pub use work::Work;

/// Where a change is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Place {
    /// In the replacement's source.
    Replacement,
    /// In the trace of the original: the trace is wrong, or the card was changed.
    Trace,
    /// In the fuse map that was burned or is to be.
    Fuses,
}

/// One change that makes the two equal.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Mend {
    /// Where it is made.
    pub place: Place,
    /// The change in words, as it reads after it was made.
    pub words: String,
    /// The line of the source or the row of the trace that it changes.
    pub origin: Origin,
    /// The proof with the change.
    pub proof: Proof,
    /// The changed circuit: the replacement, or for a mend of the trace the original.
    pub circuit: Circuit,
    /// What could be destroyed if it is taken for an order for parts; it is said before anything else.
    pub danger: Option<&'static str>,
    /// What the check of the trace found strange, and would find no longer with this change of the trace: each speaks for it.
    pub findings: Vec<Finding>,
    /// Other changes that come to the same circuit, or to one that does the same at every place: each is proved as well, and
    /// the likelier ones stand first.
    pub ways: Vec<Way>,
}

/// Another change with the effect of a mend.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Way {
    /// The change in words, as it reads after it was made.
    pub words: String,
    /// The line of the source or the row of the trace that it changes.
    pub origin: Origin,
}

impl Mend {
    /// Where a change is made, as it stands behind its words.
    fn at(&self, f: &mut fmt::Formatter<'_>, origin: &Origin) -> fmt::Result {
        match origin {
            Origin::Nowhere => Ok(()),
            Origin::Line { line, .. } if self.place == Place::Replacement => write!(f, " (line {line})"),
            origin => write!(f, " ({origin})"),
        }
    }
}

impl fmt::Display for Mend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(danger) = self.danger {
            write!(f, "danger: {danger}. It is ")?;
        }
        write!(f, "proved equal if {}", self.words)?;
        self.at(f, &self.origin)?;
        for (k, way) in self.ways.iter().enumerate() {
            let said = if k == 0 { "; the same in effect, and proved too: if" } else { ", or if" };
            write!(f, "{said} {}", way.words)?;
            self.at(f, &way.origin)?;
        }
        for finding in &self.findings {
            write!(f, "; the check of the trace speaks for it: {}", finding.message)?;
        }
        Ok(())
    }
}

impl Mend {
    /// Where it stands among the others: first what the check of the trace speaks for, and what could do harm behind all that
    /// could not.
    fn rank(&self) -> (bool, bool, Place) {
        (self.danger.is_some() && self.place == Place::Trace, self.findings.is_empty(), self.place)
    }
}

/// What the search for a mend found.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Mends {
    /// The changes that were proved, likelier ones first.
    pub found: Vec<Mend>,
    /// Changes of the replacement that were tried.
    pub edits: usize,
    /// Changes of the trace that were tried.
    pub alterations: usize,
    /// Changes of the fuse map that were tried.
    pub fuses: usize,
    /// The kinds of changes of the replacement, or of the fuse map, that were tried, in words.
    pub kinds: Vec<&'static str>,
    /// The kinds of changes of the trace that were tried, in words.
    pub trace_kinds: Vec<&'static str>,
    /// Pairs of changes of the replacement that were tried, because no single change mends it.
    pub pairs: usize,
    /// How far the two agree contact by contact, if no single change was found.
    pub agreement: Option<Agreement>,
    /// Changes that passed every run and had to be asked about.
    pub asked: usize,
    /// Changes that could neither be proved nor refuted.
    pub undecided: usize,
    /// What more than the usual work did, where it was asked for.
    pub beyond: Beyond,
    /// Whether the time was too short for all of them.
    pub cut_short: bool,
    /// How long it took.
    pub time: Duration,
}

/// What a search did with more than the usual [`Work`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Beyond {
    /// How many times the usual work there was; 0 and 1 are no more than that.
    pub times: u32,
    /// Changes and pairs that were tried although a likelier one had been found.
    pub tried: usize,
    /// Mends that were found among these.
    pub found: usize,
    /// Changes that were decided and would have been left undecided.
    pub decided: usize,
}

/// More mends than this are not looked for: they are ways to write the same.
const MOST: usize = 6;

/// The search for the single change that would mend a refutation.
pub trait Mending {
    /// Searches for the single change of the replacement that would mend it, with so much [`Work`]: a time means the usual
    /// work in no more than this.
    fn mend(&self, work: impl Into<Work>) -> Mends;

    /// The same, and for the single change of the trace that would: `board` must be what was proved against. Types that
    /// have the same pins, in the library that the trace was read with, are tried in the place of its own.
    fn mend_with_trace(&self, board: &Board, work: impl Into<Work>) -> Mends;

    /// Searches for the single change of a fuse map that would mend it: a term, a driver, a polarity, a link. The refuted
    /// circuit must be what `seated` makes of the circuit lifted from `fuses`.
    fn mend_fuses(
        &self,
        device: &Device,
        fuses: &Fuses,
        seated: impl Fn(&Circuit) -> Circuit + Sync,
        work: impl Into<Work>,
    ) -> Mends;
}

impl Mending for Refutation {
    fn mend(&self, work: impl Into<Work>) -> Mends {
        search(self, None, work.into())
    }

    fn mend_with_trace(&self, board: &Board, work: impl Into<Work>) -> Mends {
        search(self, Some(board), work.into())
    }

    fn mend_fuses(
        &self,
        device: &Device,
        fuses: &Fuses,
        seated: impl Fn(&Circuit) -> Circuit + Sync,
        work: impl Into<Work>,
    ) -> Mends {
        let mut search = Search::new(self, work.into());
        let made = |c: &FuseChange| device.lift(&c.fuses).ok().map(|lifted| seated(&lifted));
        let said = |c: &FuseChange| Said::of(&c.words, &Origin::Nowhere);
        // where a whole term or macrocell mends it, single links say the same in a stranger way
        for all in [fuses::whole(device, fuses), fuses::single(device, fuses)] {
            search.mends.kinds.extend(kinds(all.iter().map(|c| c.kind)));
            search.mends.fuses += search.through(Place::Fuses, &all, made, |_, c| Some(c), said);
            if !search.mends.found.is_empty() {
                break;
            }
        }
        search.end()
    }
}

fn search(refutation: &Refutation, board: Option<&Board>, work: Work) -> Mends {
    let mut search = Search::new(refutation, work);
    let replacement = refutation.evidence().question.replacement().clone();
    let OfSource { declared: mut edits, written } =
        search.question.source().map_or_else(OfSource::default, |source| edits_of_source(source, &replacement));
    edits.extend(edits_by_line(&replacement));
    edits.extend(exchanges_of_ways(&replacement));
    // each place gets its share of the time, so that none is left out because another took long
    [search.limit, ..] = search.limits;
    // a declaration comes first: nothing else mends all that depends on it at once, and there are few; then what the chain of
    // cause named, then the kinds in the order of their list
    let named = named_lines(refutation);
    edits.sort_by_key(|e| (e.kind != EditKind::PolarityDeclared, !named.contains(&e.origin), e.kind));
    search.singles(&replacement, &edits);
    // one word of the source, also where its circuit has nothing of it left
    search.unless_found(|search| search.singles(&replacement, &written));
    // what is missing, or another signal: there are many, so they come later
    let contacts: Vec<Label> = refutation.differences.iter().map(|d| d.label.clone()).collect();
    let mut stages = Vec::new();
    if search.goes_on() {
        stages.extend(edits_from_near(&replacement, &contacts));
        stages.iter_mut().for_each(|near| near.sort_by_key(|e| (!named.contains(&e.origin), e.kind)));
    }
    let mut stages = stages.into_iter();
    for near in stages.by_ref().take(2) {
        search.unless_found(|search| search.singles(&replacement, &near));
    }
    [_, search.limit, _] = search.limits;
    if let Some(board) = board {
        search.trace(board, &replacement);
    }
    [.., search.limit] = search.limits;
    if search.mends.found.is_empty() {
        let all = [written, edits].concat();
        search.several(&replacement, &all);
    }
    for near in stages {
        search.unless_found(|search| search.singles(&replacement, &near));
    }
    search.end()
}

/// The warning about a mend of the trace that makes a driver of something that now goes to high impedance.
const DANGER: &str = "such a part would drive a line that the part in the trace lets go, and two drivers may fight there; this \
                      can say that the trace is wrong, never that the part may be fitted: look at the one on the board first";

/// Whether a pin that is at times at high impedance in one circuit always drives in the other.
fn drives_where_it_let_go(now: &Circuit, changed: &Circuit) -> bool {
    let always = |d: &Driver| d.stage != Stage::OpenCollector && d.enable == Expr::HIGH;
    let drivers = |c: &Circuit, is_always: bool| -> HashSet<By> {
        let all = c.nets().iter().flat_map(|n| &n.drivers);
        all.filter(|d| d.by.is_pin() && always(d) == is_always).map(|d| d.by.clone()).collect()
    };
    let lets_go = drivers(now, false);
    drivers(changed, true).iter().any(|by| lets_go.contains(by))
}

/// The lines that the chain of cause in the replacement names.
fn named_lines(refutation: &Refutation) -> Vec<Origin> {
    let causes = refutation.explain().probes.into_iter().flat_map(|p| p.replacement_why);
    causes.map(|c| c.origin).filter(|o| *o != Origin::Nowhere).collect()
}

/// Each once, in the order in which they come.
fn kinds(all: impl Iterator<Item = &'static str>) -> Vec<&'static str> {
    let mut kinds = Vec::new();
    for kind in all {
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    kinds
}

/// What is said of a change.
struct Said {
    words: String,
    origin: Origin,
    /// Findings of the trace's check that support it.
    findings: Vec<Finding>,
}

impl Said {
    fn of(words: &str, origin: &Origin) -> Self {
        Said { words: words.to_owned(), origin: origin.clone(), findings: Vec::new() }
    }
}

/// Changes that are simulated together before the solver is asked about those that are left.
const BATCH: usize = 128;

struct Search {
    filter: Filter,
    question: Question,
    began: Instant,
    limit: Limit,
    /// The limits of time: for changes of the source, then of the trace, then for all.
    limits: [Limit; 3],
    work: Work,
    /// The changes that were tried, by the circuit that they make, each with the mend that it is or belongs to, if any.
    seen: HashMap<(Place, u64), Option<usize>>,
    walked: usize,
    /// The first changes of the replacement that pass all runs and were neither proved nor refuted.
    open: Vec<Circuit>,
    mends: Mends,
}

impl Search {
    fn new(refutation: &Refutation, work: Work) -> Self {
        let began = Instant::now();
        let effort = work.effort();
        let limits = [2, 3, 4].map(|quarters| work.limit(quarters));
        let question = refutation.evidence().question.as_ref().clone().watched(|_| ());
        Search {
            filter: Filter::new(&question, refutation, effort),
            question: question.within(effort),
            began,
            limit: limits[2],
            limits,
            work,
            seen: HashMap::new(),
            walked: 0,
            open: Vec::new(),
            mends: Mends { beyond: Beyond { times: work.number(), ..Beyond::default() }, ..Mends::default() },
        }
    }

    /// Whether what is less likely is still looked for: nothing of the source has been found, or there is more than the usual
    /// work for it.
    fn goes_on(&self) -> bool {
        self.mends.beyond.times > 1 || self.mends.found.iter().all(|m| m.place == Place::Trace)
    }

    /// Looks for what is less likely, if that goes on; what the usual work would have left out is counted.
    fn unless_found(&mut self, look: impl FnOnce(&mut Search)) {
        if !self.goes_on() {
            return;
        }
        let before = (self.mends.edits + self.mends.pairs, self.mends.found.len());
        let is_beyond = self.mends.found.iter().any(|m| m.place != Place::Trace);
        look(self);
        if is_beyond {
            self.mends.beyond.tried += self.mends.edits + self.mends.pairs - before.0;
            self.mends.beyond.found += self.mends.found.len() - before.1;
        }
    }

    /// Counts a change that the usual work would have left undecided.
    fn counts_as_decided(&mut self, asked: usize) {
        let usual = Work::usual();
        self.mends.beyond.decided += usize::from(asked > usual.most_asked() || self.walked > usual.most_walked());
    }

    /// Tries single changes of the replacement.
    fn singles(&mut self, replacement: &Circuit, edits: &[Edit]) {
        for kind in kinds(edits.iter().map(|e| e.kind.words())) {
            if !self.mends.kinds.contains(&kind) {
                self.mends.kinds.push(kind);
            }
        }
        let said = |e: &Edit| Said::of(e.words(), &e.origin);
        self.mends.edits +=
            self.through(Place::Replacement, edits, |e| Some(e.apply(replacement)), |_, c| Some(c), said);
    }

    /// Tries single changes of the trace. Where a contact fails by itself, a change that does not touch what it depends
    /// on is no mend.
    fn trace(&mut self, board: &Board, replacement: &Circuit) {
        let mut all = board.alterations();
        self.mends.trace_kinds = kinds(all.iter().map(|a| a.kind));
        let tried = all.len();
        let failing = self.filter.called(&self.filter.failing(replacement, &self.filter.contacts()).0);
        let reaches: Vec<Reach> = failing.iter().map(|label| board.reach(label)).collect();
        all.retain(|a| reaches.iter().all(|reach| reach.is_touched_by(a)));
        let left_out = tried - all.len();
        let made = |a: &Alteration| board.altered_circuit(a);
        // only what is left is read again with all that a check of the trace says
        let finished = |a: &Alteration, _| board.altered(a)?.circuit().ok();
        let said = |a: &Alteration| {
            let altered = board.altered(a);
            let findings = altered.iter().flat_map(|altered| board.answered_by(altered)).cloned().collect();
            Said { findings, ..Said::of(&a.words, &a.origin) }
        };
        self.mends.alterations = left_out + self.through(Place::Trace, &all, made, finished, said);
    }

    fn end(mut self) -> Mends {
        self.mends.found.sort_by_key(Mend::rank);
        self.mends.time = self.began.elapsed();
        self.mends
    }

    /// Tries all changes of one place, in their order; gives how many. `made` is what goes through the runs, `finished` what is
    /// asked about.
    fn through<C: Sync>(
        &mut self,
        place: Place,
        changes: &[C],
        made: impl Fn(&C) -> Option<Circuit> + Sync,
        finished: impl Fn(&C, Circuit) -> Option<Circuit>,
        said: impl Fn(&C) -> Said,
    ) -> usize {
        let (mut tried, mut found, mut asked) = (0, 0, 0);
        self.walked = 0;
        for batch in changes.chunks(BATCH) {
            let filter = &self.filter;
            let limit = self.limit;
            let passed = side_by_side(batch, |change| {
                if limit.over().is_some() {
                    return Err(());
                }
                let refutes = |c: &Circuit| match place {
                    Place::Trace => filter.refutes_original(c),
                    Place::Replacement | Place::Fuses => filter.refutes_replacement(c),
                };
                Ok(made(change).filter(|c| !refutes(c)))
            });
            for (change, passed) in batch.iter().zip(passed) {
                let Ok(passed) = passed else {
                    self.mends.cut_short = true;
                    return tried;
                };
                tried += 1;
                let Some(circuit) = passed else { continue };
                // several ways of making the same circuit are one
                let built = (place, fingerprint(&circuit));
                if let Some(known) = self.seen.get(&built) {
                    if let Some(mend) = *known {
                        self.also(mend, said(change));
                    }
                    continue;
                }
                if found >= MOST {
                    continue;
                }
                self.seen.insert(built, None);
                let Some(circuit) = finished(change, circuit) else { continue };
                if asked >= self.work.most_asked() {
                    self.mends.undecided += 1;
                    continue;
                }
                asked += 1;
                let danger = place == Place::Trace && drives_where_it_let_go(self.question.original(), &circuit);
                let danger = danger.then_some(DANGER);
                let open = self.mends.undecided;
                let proof = self.ask(place, circuit.clone());
                if self.mends.undecided == open {
                    self.counts_as_decided(asked);
                }
                if let Some(proof) = proof {
                    let does = effect(&circuit);
                    let is_alike = |m: &Mend| m.place == place && m.danger == danger && effect(&m.circuit) == does;
                    let mend = match self.mends.found.iter().position(is_alike) {
                        Some(alike) => {
                            self.also(alike, said(change));
                            alike
                        }
                        None => {
                            let Said { words, origin, findings } = said(change);
                            self.mends.found.push(Mend {
                                place,
                                words,
                                origin,
                                proof,
                                circuit,
                                danger,
                                findings,
                                ways: Vec::new(),
                            });
                            found += 1;
                            self.mends.found.len() - 1
                        }
                    };
                    self.seen.insert(built, Some(mend));
                }
            }
            if found >= MOST {
                return tried;
            }
        }
        tried
    }

    /// Another way to a mend that was found; the first that the check of the trace speaks for stands before the others.
    fn also(&mut self, mend: usize, said: Said) {
        let Some(mend) = self.mends.found.get_mut(mend) else { return };
        let way = Way { words: said.words, origin: said.origin };
        let first = Way { words: mend.words.clone(), origin: mend.origin.clone() };
        if way == first || mend.ways.contains(&way) {
            return;
        }
        if mend.findings.is_empty() && !said.findings.is_empty() {
            mend.ways.insert(0, first);
            (mend.words, mend.origin, mend.findings) = (way.words, way.origin, said.findings);
        } else {
            mend.ways.push(way);
        }
    }

    /// The question with a changed circuit.
    fn ask_about(&self, place: Place, changed: Circuit) -> Question {
        let question = match place {
            Place::Trace => self.question.clone().against(changed),
            Place::Replacement | Place::Fuses => self.question.clone().about(changed),
        };
        let effort = Effort { limit: self.limit, ..self.work.effort() };
        question.in_another_form().within(effort).in_time(Duration::MAX)
    }

    fn ask(&mut self, place: Place, changed: Circuit) -> Option<Proof> {
        self.mends.asked += 1;
        let refutes = |filter: &Filter| match place {
            Place::Trace => filter.refutes_original(&changed),
            Place::Replacement | Place::Fuses => filter.refutes_replacement(&changed),
        };
        if refutes(&self.filter) {
            // by what was learned since
            return None;
        }
        let pair = match place {
            Place::Trace => [&changed, self.question.replacement()],
            Place::Replacement | Place::Fuses => [self.question.original(), &changed],
        };
        if self.filter.nothing_explains_what_was_drawn(pair) {
            return None;
        }
        let question = self.ask_about(place, changed.clone());
        // most mends go by induction alone, and that is quick
        match question.clone().to_depth(0).walking(0).ask() {
            Ok(proof) => return Some(proof),
            Err(Failure::Undecided(_)) => {}
            Err(_) => return None,
        }
        if self.filter.draws_against(&self.limit, refutes) {
            return None;
        }
        if self.filter.unexplained([question.original(), question.replacement()]) {
            return None;
        }
        self.walked += 1;
        if place == Place::Replacement && self.open.len() < several::MOST_OPEN {
            self.open.push(changed);
        }
        if self.walked > self.work.most_walked() {
            self.mends.undecided += 1;
            return None;
        }
        match question.to_depth(0).walking(self.work.walk()).ask() {
            Ok(proof) => Some(proof),
            Err(Failure::Refuted(r)) => {
                if place != Place::Trace {
                    self.filter.learn(&r);
                }
                None
            }
            Err(Failure::Undecided(_)) => {
                self.mends.undecided += 1;
                None
            }
            Err(_) => None,
        }
    }
}

impl Mends {
    /// What was left undecided, in a sentence; nothing if everything that was tried is decided.
    pub fn left_open(&self) -> Option<String> {
        let mut said: Vec<String> = match self.undecided {
            0 => Vec::new(),
            1 => vec!["1 more change could be neither proved nor refuted with this much work".to_owned()],
            n => vec![format!("{n} more changes could be neither proved nor refuted with this much work")],
        };
        if self.cut_short {
            said.push("the time was over before all had been tried".to_owned());
        }
        if said.is_empty() {
            return None;
        }
        Some(format!("{}.", said.join("; ")))
    }

    /// What more than the usual work did, in a sentence; nothing if there was no more.
    pub fn beyond(&self) -> Option<String> {
        let Beyond { times, tried, found, decided } = self.beyond;
        let changes = |n: usize| format!("{n} {}", if n == 1 { "change" } else { "changes" });
        let tried = match (tried, found) {
            (0, _) => "nothing was left out that it could have tried".to_owned(),
            (n, found) => format!(
                "{} less likely than what was found were tried too, and {} of them mended it",
                changes(n),
                if found == 0 { "none".to_owned() } else { found.to_string() }
            ),
        };
        let decided = match decided {
            0 => String::new(),
            n => format!("; {} decided that the usual work leaves undecided", changes(n)),
        };
        (times > 1).then(|| format!("With {times} times the usual work: {tried}{decided}."))
    }

    /// Where nothing mends the whole: single changes after which some contacts agree. None is proved.
    pub fn parts(&self) -> &[Part] {
        self.agreement.as_ref().filter(|_| self.found.is_empty()).map_or(&[], |a| &a.parts)
    }

    /// How many contacts agree, in a sentence; nothing if a single change was found.
    pub fn agreeing(&self) -> Option<String> {
        let Agreement { differ, of, .. } = self.agreement.as_ref().filter(|a| !a.differ.is_empty())?;
        let names: Vec<String> = differ.iter().map(ToString::to_string).collect();
        let agree = of.saturating_sub(differ.len());
        Some(format!("{agree} of {of} contacts agreed in every run that was tried; not: {}.", names.join(", ")))
    }

    /// What was found: changes of the trace that its own check speaks for and that do no harm, changes of the replacement or the
    /// fuse map, and all other changes of the trace.
    pub fn by_place(&self) -> [Vec<&Mend>; 3] {
        let (trace, own): (Vec<&Mend>, Vec<&Mend>) = self.found.iter().partition(|m| m.place == Place::Trace);
        let (named, trace) = trace.into_iter().partition(|m| !m.findings.is_empty() && m.danger.is_none());
        [named, own, trace]
    }

    /// What no search tries, in a sentence.
    pub fn not_tried(&self) -> &'static str {
        "Not tried: two slips on which no contact hangs by itself, and more than three. Look at the causes, and at the trace."
    }

    /// What was tried: `338 single changes of the replacement and 2033 of the trace`.
    pub fn tried(&self) -> String {
        let counts = [(self.edits, "replacement"), (self.alterations, "trace"), (self.fuses, "fuse map")];
        let mut said = counts.into_iter().filter(|(n, _)| *n > 0);
        let Some((n, what)) = said.next() else { return "no change".to_owned() };
        let first = format!("{n} single {} of the {what}", if n == 1 { "change" } else { "changes" });
        let singles = said.fold(first, |all, (n, what)| format!("{all} and {n} of the {what}"));
        match self.pairs {
            0 => singles,
            n => format!("{singles}, and {n} pairs of changes"),
        }
    }
}

impl fmt::Display for Mends {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let time = self.time.as_secs_f64();
        let asked = match self.asked {
            0 => String::new(),
            n => format!(", {n} of them by proof"),
        };
        let head = match (self.found.is_empty(), self.cut_short) {
            (true, false) if self.undecided == 0 => "No single change of those that are tried mends it",
            (true, _) => "No change that mends it was found",
            (false, _) => "What would mend it",
        };
        writeln!(f, "{head} ({} tried in {time:.1} s{asked}):", self.tried())?;
        let of_what = if self.fuses > 0 { "fuse map" } else { "replacement" };
        if self.found.is_empty() {
            for (what, kinds) in [(of_what, &self.kinds), ("trace", &self.trace_kinds)] {
                if !kinds.is_empty() {
                    writeln!(f, "  of the {what}: {}", kinds.join(", "))?;
                }
            }
            writeln!(f, "  {}", self.not_tried())?;
        }
        if let Some(agreeing) = self.agreeing() {
            writeln!(f, "  {agreeing}")?;
        }
        for part in self.parts() {
            writeln!(f, "  {part}")?;
        }
        let said = |f: &mut fmt::Formatter<'_>, of: &[&Mend]| of.iter().try_for_each(|mend| writeln!(f, "  {mend}"));
        let [named, own, trace] = self.by_place();
        said(f, &named)?;
        if !named.is_empty() && !own.is_empty() {
            writeln!(f, "Or, if the trace is right:")?;
        }
        said(f, &own)?;
        if !trace.is_empty() {
            if own.is_empty() {
                writeln!(f, "  no single change of the {of_what} of those that were tried")?;
            }
            writeln!(f, "Or, if the source is right and the trace is not (look at the card before you believe it):")?;
        }
        said(f, &trace)?;
        for said in [self.beyond(), self.left_open()].into_iter().flatten() {
            writeln!(f, "  {said}")?;
        }
        Ok(())
    }
}
