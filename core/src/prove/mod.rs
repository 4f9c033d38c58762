//! Proof that a replacement refines the original, or the shortest sequence that shows it does not.
//!
//! The way: draw one long run of the replacement and solve for a start of the original that explains it; guess from
//! that pair which bits correspond; refine the guess until every kind of event keeps it and every contact agrees, phase
//! by phase; check the starts. What does not go through is searched for a run that nothing explains.
mod assume;
mod claim;
mod draw;
mod hidden;
mod matching;
mod matter;
mod obligations;
mod pair;
mod partial;
mod plain;
mod progress;
mod sanity;
mod search;
mod start;
mod verdict;
mod walk;
mod world;

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::circuit::{Circuit, Label};
use crate::machine::{Lanes, Machine, Unknown};
use crate::simulate::Shown;
use crate::solver::{Effort, Solver};

pub use assume::{Assumption, Formula, Restriction, Way};
pub use claim::{
    Against, Assumed, Claim, Original, always, changes_only_while, goes_high_only_while, goes_low_only_while, never,
    prove,
};
use draw::Draw;
pub use hidden::{Hidden, Of, Why};
use matching::{Class, Closed, Open};
pub(crate) use matter::{Evidence, Moves};
use obligations::Certificate;
pub use obligations::Obligation;
use pair::{Compared, ORIGINAL, Pair, REPLACEMENT};
use partial::Gap;
pub use progress::Step;
use progress::Watcher;
use search::{Explained, Run, Search, Searched};
use start::Starts;
pub use verdict::{Difference, Failure, Figures, Happening, Method, Proof, Refutation, Undecided, Withheld};
use walk::{Budget, Facts, Walked};

/// A question: does this replacement refine this original?
#[derive(Clone, Debug)]
pub struct Question {
    original: Circuit,
    replacement: Circuit,
    assumptions: Vec<Assumption>,
    restrictions: Vec<Restriction>,
    groups: Vec<Vec<Label>>,
    effort: Effort,
    deepest: usize,
    walk: usize,
    time: Option<Duration>,
    acknowledged: Vec<String>,
    all_acknowledged: bool,
    untraced: Vec<Gap>,
    in_part: bool,
    watcher: Watcher,
}

impl Question {
    /// Does `replacement` refine `original`?
    pub fn new(original: Circuit, replacement: Circuit) -> Self {
        Question {
            original,
            replacement,
            assumptions: Vec::new(),
            restrictions: Vec::new(),
            groups: Vec::new(),
            effort: Effort::default(),
            deepest: 24,
            walk: 1 << 20,
            time: None,
            acknowledged: Vec::new(),
            all_acknowledged: false,
            untraced: Vec::new(),
            in_part: false,
            watcher: Watcher::default(),
        }
    }

    /// Under this assumption.
    #[must_use]
    pub fn assuming(mut self, assumption: Assumption) -> Self {
        self.assumptions.push(assumption);
        self
    }

    /// Under this restriction of what one event may be.
    #[must_use]
    pub fn restricted(mut self, restriction: Restriction) -> Self {
        self.restrictions.push(restriction);
        self
    }

    /// These contacts change together, never alone.
    #[must_use]
    pub fn together(mut self, contacts: impl IntoIterator<Item = Label>) -> Self {
        self.groups.push(contacts.into_iter().collect());
        self
    }

    /// The original.
    pub fn original(&self) -> &Circuit {
        &self.original
    }

    /// The replacement.
    pub fn replacement(&self) -> &Circuit {
        &self.replacement
    }

    /// The restrictions of events under which it is asked.
    pub fn restrictions(&self) -> &[Restriction] {
        &self.restrictions
    }

    /// The assumptions under which it is asked.
    pub fn assumptions(&self) -> &[Assumption] {
        &self.assumptions
    }

    /// The groups of contacts that change together.
    pub fn groups(&self) -> &[Vec<Label>] {
        &self.groups
    }

    /// No longer than this for one question to the solver.
    #[must_use]
    pub fn within(mut self, effort: Effort) -> Self {
        self.effort = effort;
        self
    }

    /// Search for refutations of at most this many events.
    #[must_use]
    pub fn to_depth(mut self, events: usize) -> Self {
        self.deepest = events;
        self
    }

    /// Walk over the states of a small pair with at most this many runs of one event, when induction stays open.
    #[must_use]
    pub fn walking(mut self, runs: usize) -> Self {
        self.walk = runs;
        self
    }

    /// Exactly one of these contacts is high (or low) at every moment, and they change together: a one-hot group.
    #[must_use]
    pub fn one_of(self, contacts: impl IntoIterator<Item = Label>, high: bool) -> Self {
        let contacts: Vec<Label> = contacts.into_iter().collect();
        let assumption = Assumption::one_of(&contacts, high, &|l| self.named(l));
        self.assuming(assumption).together(contacts)
    }

    fn named(&self, label: &Label) -> String {
        let mut all = self.replacement.contacts().iter().chain(self.original.contacts());
        all.find(|c| &c.label == label).map_or_else(|| label.to_string(), |c| format!("{label} {}", c.name))
    }

    /// Knowing what settling hides: the net, the register or the contact of this name. A net that is constant once
    /// settled, or a register whose data races its clock, then doesn't withhold the proof; of a contact only what it
    /// shows before and after each event is compared, not its pulses. A name that nothing has is refused.
    #[must_use]
    pub fn acknowledging(mut self, name: impl Into<String>) -> Self {
        self.acknowledged.push(name.into());
        self
    }

    /// Only settled levels are the matter: nets that are constant once settled, and races, withhold nothing. For
    /// circuits whose gates stand for functions, not for packages.
    #[must_use]
    pub fn settled_only(mut self) -> Self {
        self.all_acknowledged = true;
        self
    }

    /// Nobody has traced this net of the original to its end: contacts that hang on it are left out of the proof, which
    /// is then none for the whole. Without a net: something is missing that touches no net of the original.
    #[must_use]
    pub fn untraced(mut self, net: Option<String>, why: impl Into<String>) -> Self {
        self.untraced.push(Gap { net, why: why.into() });
        self
    }

    /// A proof of the contacts that hang on nothing untraced will do.
    #[must_use]
    pub fn in_part(mut self) -> Self {
        self.in_part = true;
        self
    }

    /// No longer than this for everything.
    #[must_use]
    pub fn in_time(mut self, time: Duration) -> Self {
        self.time = Some(time);
        self
    }

    /// Tells how far it has got.
    #[must_use]
    pub fn watched(mut self, tell: impl Fn(&Step) + Send + Sync + 'static) -> Self {
        self.watcher = Watcher::new(tell);
        self
    }

    /// The same question about another replacement with the same contacts.
    #[must_use]
    pub fn about(mut self, replacement: Circuit) -> Self {
        self.replacement = replacement;
        self
    }

    /// The same question against another original with the same contacts.
    #[must_use]
    pub(crate) fn against(mut self, original: Circuit) -> Self {
        self.original = original;
        self
    }

    /// What one question to the solver may cost.
    pub(crate) fn effort(&self) -> Effort {
        self.effort
    }

    /// Asks.
    ///
    /// # Errors
    /// Refuted, undecided, withheld, proved in part only, or refused.
    pub fn ask(&self) -> Result<Proof, Failure> {
        self.put(|attempt| attempt.run())
    }

    /// Asks by nothing but a walk over all states, of as many runs as [`walking`](Question::walking) says: slow, and an
    /// opinion of its own.
    ///
    /// # Errors
    /// As for [`ask`](Question::ask); undecided if the pair is too large for the walk.
    pub fn ask_by_walk(&self) -> Result<Proof, Failure> {
        self.put(|mut attempt| match attempt.walk(attempt.question.walk) {
            Some(verdict) => verdict,
            None => Err(attempt.undecided(None)),
        })
    }

    fn put(&self, ask: impl FnOnce(Attempt<'_>) -> Result<Proof, Failure>) -> Result<Proof, Failure> {
        let began = Instant::now();
        let mut pair = Pair::new(
            Machine::new(&self.original),
            Machine::new(&self.replacement),
            self.assumptions.clone(),
            self.restrictions.clone(),
            &self.groups,
        );
        self.known_names()?;
        for contact in &mut pair.contacts {
            let label = contact.label.to_string();
            if self.acknowledged.iter().any(|a| *a == contact.name || *a == label) {
                contact.compared = Compared::Settled;
            }
        }
        let left_out = partial::left_out(&self.original, &pair, &self.untraced);
        for left in &left_out {
            pair.leave_out(left.contact);
        }
        let effort = Effort { until: self.time.map(|t| began + t), ..self.effort };
        let question = Question { effort, ..self.clone() };
        let hidden = question.hidden(&pair);
        let proof = ask(Attempt { question: &question, pair: Arc::new(pair), began, tried: Vec::new() })?;
        question.complete(proof, hidden, left_out)
    }

    /// Refuses an acknowledgement of something that is not there.
    fn known_names(&self) -> Result<(), Failure> {
        let circuits = [&self.original, &self.replacement];
        let nets = circuits.iter().flat_map(|c| c.nets().iter().map(|n| n.name.clone()));
        let elements = circuits.iter().flat_map(|c| c.elements().iter().map(|e| e.name.clone()));
        let contacts =
            circuits.iter().flat_map(|c| c.contacts().iter().flat_map(|c| [c.name.clone(), c.label.to_string()]));
        let names: BTreeSet<String> = nets.chain(elements).chain(contacts).collect();
        match self.acknowledged.iter().find(|a| !names.contains(*a)) {
            None => Ok(()),
            Some(unknown) => {
                let near = hidden::near(unknown, names.iter().map(String::as_str));
                let near =
                    if near.is_empty() { String::new() } else { format!(": did you mean {}?", near.join(" or ")) };
                Err(Failure::Refused(format!(
                    "`{unknown}` is acknowledged, but no net, register or contact has that name{near}"
                )))
            }
        }
    }

    /// Nets that settling hides and nobody has acknowledged.
    fn hidden(&self, pair: &Pair) -> Vec<Hidden> {
        if self.all_acknowledged {
            return Vec::new();
        }
        let sides = [(Of::Original, &self.original), (Of::Replacement, &self.replacement)];
        let mut all = Vec::new();
        for ((of, circuit), machine) in sides.into_iter().zip(&pair.machines) {
            all.extend(hidden::constants(of, circuit, machine, pair.ample(), self.effort));
        }
        all.retain(|h| !h.is_among(&self.acknowledged));
        all
    }

    /// A proof that holds for the settled levels that were compared: is anything hidden or left out?
    fn complete(
        &self,
        mut proof: Proof,
        mut hidden: Vec<Hidden>,
        left_out: Vec<partial::LeftOut>,
    ) -> Result<Proof, Failure> {
        proof.acknowledged = self.acknowledged.clone();
        if !self.all_acknowledged {
            let races = proof.races.iter().filter(|r| !r.is_among(&self.acknowledged));
            hidden.extend(races.cloned());
        }
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

struct Attempt<'q> {
    question: &'q Question,
    pair: Arc<Pair>,
    began: Instant,
    tried: Vec<String>,
}

/// A walk of this many runs is tried before anything that takes longer.
const SHORT_WALK: usize = 1 << 15;

/// How often the symbolic rounds are doubled before a side is said not to settle.
const PATIENCE: u32 = 3;

/// Events of the run from which the matching is guessed.
const RUN: usize = 200;

/// Events more for each kind of event, where bits must have time to forget how they started.
const RUN_EACH: usize = 12;

/// A pair with more kinds of events than this is large: hidden bits get likely starts at once.
const LARGE: usize = 16;

impl Attempt<'_> {
    fn run(mut self) -> Result<Proof, Failure> {
        let effort = self.question.effort;
        sanity::check(&self.pair, effort).map_err(Failure::Refused)?;
        let circuits = [&self.question.original, &self.question.replacement];
        for (circuit, machine) in circuits.into_iter().zip(&self.pair.machines) {
            sanity::reflexive(circuit, machine, effort).map_err(Failure::Refused)?;
        }
        let mut draw = Draw::new(1984);
        let levels = draw.levels(&self.pair).ok_or_else(|| {
            Failure::Refused(
                "the assumptions can hold, but no levels at the contacts that keep them were drawn: put them less narrowly".to_owned(),
            )
        })?;
        for lap in 0..=PATIENCE {
            self.question.watcher.tell(&Step::Matching { attempt: lap as usize + 1 });
            let Some((run, seed)) = self.seed(&levels, &mut draw) else {
                self.tried.push("a drawn run: the replacement does not come to rest at power-up".to_owned());
                return self.decide(None, None);
            };
            let start = match seed {
                Explained::From(start) => start,
                Explained::Not => return self.decide(None, Some(run)),
                Explained::Unknown(why) => {
                    self.tried.push(format!("a start of the original for a drawn run: the solver gave up ({why})"));
                    return self.decide(None, None);
                }
            };
            let word = |b: &bool| if *b { u64::MAX } else { 0 };
            let first: Vec<u64> = run.levels.iter().map(word).collect();
            let mut start = start;
            let mut classes = Vec::new();
            let mut doubled = false;
            // in a large pair a drawn run never shows everything
            let large = self.pair.events.len() > LARGE;
            for attempt in usize::from(large)..2 {
                let cells = |start: &[bool]| [start.iter().map(word).collect(), run.cells.iter().map(word).collect()];
                if attempt == 1 {
                    // bits that the run did not show were given any start: give them their likely partner's
                    let partners = matching::partners(
                        &self.pair,
                        &first,
                        cells(&start),
                        &mut draw,
                        RUN + RUN_EACH * self.pair.events.len(),
                    );
                    let wishes: Vec<_> =
                        partners.iter().map(|&(o, r, opposite)| (o, run.cells.get(r) == Some(&!opposite))).collect();
                    match run.explain_with(&wishes, effort) {
                        Some(better) if large || better != start => start = better,
                        _ => break,
                    }
                }
                let guess =
                    matching::guess(&self.pair, &first, cells(&start), &mut draw, RUN.max(5 * self.pair.events.len()));
                let (refined, outcome) = matching::induct(&self.pair, guess, effort);
                classes = refined;
                match outcome {
                    Ok(closed) => match start::check(&self.pair, &classes, &start, effort) {
                        Starts::Matched => return Ok(self.proof(classes, start, &closed)),
                        Starts::Open(why) => {
                            self.tried.push(format!("induction over matched bits: closed; power-up: {why}"))
                        }
                        Starts::GaveUp(why) => self.tried.push(format!("power-up: the solver gave up ({why})")),
                    },
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
            let follow = start::followed(&self.pair, &classes, &start);
            return self.decide(Some(follow), None);
        }
        self.decide(None, None)
    }

    /// A long drawn run of the replacement, and a start of the original that explains it. Nothing if the replacement does
    /// not even come to rest at power-up.
    fn seed(&self, levels: &[u64], draw: &mut Draw) -> Option<(Run, Explained)> {
        let pair = &self.pair;
        let mut now: Vec<u64> = levels.iter().map(|&w| if w & 1 == 1 { u64::MAX } else { 0 }).collect();
        let first: Vec<bool> = now.iter().map(|&w| w & 1 == 1).collect();
        let cells = pair.starts(REPLACEMENT, |v| v, |_| draw.word() & 1 == 1);
        let mut events = Vec::new();
        for _ in 0..RUN {
            let change = draw.event(pair, &now, true);
            for &(c, w) in &change {
                now[c] = w;
            }
            if !change.is_empty() {
                events.push(change.into_iter().map(|(c, w)| (c, w & 1 == 1)).collect());
            }
        }
        let run = Run::record(pair, first, cells, events)?;
        let explained = run.explain(self.question.effort);
        Some((run, explained))
    }

    /// What induction left open: by a walk if the pair is small, by search, by a longer walk. `known` is a run that
    /// nothing explains, but longer than need be.
    fn decide(
        mut self,
        follow: Option<Vec<Result<(usize, bool), bool>>>,
        known: Option<Run>,
    ) -> Result<Proof, Failure> {
        let short = self.question.walk.min(SHORT_WALK);
        if let Some(verdict) = self.walk(short) {
            return verdict;
        }
        let known = known.map(|k| k.shorten(self.question.effort));
        let deepest = known.as_ref().map_or(self.question.deepest, |k| k.events.len().min(self.question.deepest));
        let pair = Arc::clone(&self.pair);
        let mut search = Search::new(&pair, self.question.effort);
        if let Some(follow) = follow {
            search.follow(&follow);
        }
        match search.run(deepest, &self.question.watcher) {
            Searched::Found(run) => {
                return Err(Failure::Refuted(Box::new(self.refutation(run, search.is_shortest()))));
            }
            Searched::NothingTo(n) => self.tried.push(format!("search for a refutation: none with up to {n} events")),
            Searched::GaveUp(n, why) => {
                self.tried.push(format!("search for a refutation: gave up at {n} events ({why})"));
            }
        }
        if let Some(run) = known {
            return Err(Failure::Refuted(Box::new(self.refutation(run, false))));
        }
        if short < self.question.walk
            && let Some(verdict) = self.walk(self.question.walk)
        {
            return verdict;
        }
        Err(self.undecided(None))
    }

    fn undecided(&mut self, obligation: Option<String>) -> Failure {
        let obligation = obligation.or_else(|| self.tried.first().cloned()).unwrap_or_default();
        Failure::Undecided(Undecided {
            obligation,
            tried: std::mem::take(&mut self.tried),
            help:
                "a deeper search, more time for the solver, a longer walk, or a replacement whose registers are closer \
                   to the original's"
                    .to_owned(),
        })
    }

    /// Walks over the pair's states; `None` if that leads nowhere.
    fn walk(&mut self, runs: usize) -> Option<Result<Proof, Failure>> {
        let budget = Budget { runs, until: self.question.effort.until };
        self.question.watcher.tell(&Step::Walking { runs });
        match walk::walk(&self.pair, budget) {
            Walked::Closed(facts) => Some(Ok(self.walked(&facts))),
            Walked::Found(run) => match run.explain(self.question.effort) {
                // found one way, confirmed another
                Explained::Not => Some(Err(Failure::Refuted(Box::new(self.refutation(run, true))))),
                Explained::Unknown(why) => {
                    self.tried.push(format!("a walk over all states: found a run that nothing explains, but the solver gave up on confirming it ({why})"));
                    None
                }
                Explained::From(_) => Some(Err(Failure::Refused(
                    "walk and solver disagree about a run: this is a mistake of the prover, please report it"
                        .to_owned(),
                ))),
            },
            Walked::Restless(side, run) => {
                let way = self.way(&run);
                self.tried.push("a walk over all states".to_owned());
                Some(Err(self.undecided(Some(format!("the {} comes to rest {way}: it does not", SIDES[side])))))
            }
            Walked::Beyond(why) => {
                self.tried.push(format!("a walk over all states: {why}"));
                None
            }
        }
    }

    /// A run in words.
    fn way(&self, run: &Run) -> String {
        let named = |c: usize, high: bool| {
            let contact = &self.pair.contacts[c];
            format!("{} {} {}", contact.label, contact.name, if high { "high" } else { "low" })
        };
        let levels: Vec<_> = (0..self.pair.contacts.len())
            .filter(|&c| self.pair.contacts[c].is_read)
            .map(|c| named(c, run.levels[c]))
            .collect();
        let mut way = match levels.as_slice() {
            [] => "at power-up".to_owned(),
            _ => format!("at power-up with {}", levels.join(", ")),
        };
        for event in &run.events {
            let changes: Vec<_> = event.iter().map(|&(c, high)| named(c, high)).collect();
            way.push_str(&format!(", then {}", changes.join(" and ")));
        }
        way
    }

    fn walked(&self, facts: &Facts) -> Proof {
        let pair = &self.pair;
        Proof {
            original: self.question.original.name.clone(),
            replacement: self.question.replacement.name.clone(),
            assumptions: self.assumptions(),
            method: Method::Walk { places: facts.places },
            matches: Vec::new(),
            unknowns: self.unknowns(&facts.unknowns),
            races: self.races(&facts.unknowns),
            acknowledged: Vec::new(),
            left_out: Vec::new(),
            untraced: Vec::new(),
            findings: self.findings(&facts.fights),
            figures: Figures {
                events: pair.events.len(),
                rounds: 0,
                questions: 0,
                structural: 0,
                time: self.began.elapsed(),
                solver: Solver::version(),
            },
            certificate: None,
        }
    }

    fn proof(&self, classes: Vec<Class>, spare: Vec<bool>, closed: &Closed) -> Proof {
        let pair = &self.pair;
        let name = |&((s, c), opposite): &((usize, usize), bool)| {
            let of = ["original", "replacement"][s];
            let name = &pair.machines[s].cells()[c].name;
            // the value that an output reads back has the output's name
            let name = name.strip_suffix(" (value)").unwrap_or(name);
            format!("{}{name} ({of})", if opposite { "¬" } else { "" })
        };
        let matches = classes
            .iter()
            .map(|class| {
                // the first bit of a class stands upright, and constants as what they are opposite to
                let turned = !class.is_constant && class.bits.first().is_some_and(|&(_, opposite)| opposite);
                let bits: Vec<_> = class.bits.iter().map(|&(bit, opposite)| name(&(bit, opposite != turned))).collect();
                match (class.is_constant, bits.len()) {
                    (true, _) => format!("always low: {}", bits.join(", ")),
                    (false, 1) => format!("on its own: {}", bits.join("")),
                    (false, _) => format!("same: {}", bits.join(" = ")),
                }
            })
            .collect();
        Proof {
            original: self.question.original.name.clone(),
            replacement: self.question.replacement.name.clone(),
            assumptions: self.assumptions(),
            method: Method::Induction,
            matches,
            unknowns: self.unknowns(&closed.unknowns),
            races: self.races(&closed.unknowns),
            acknowledged: Vec::new(),
            left_out: Vec::new(),
            untraced: Vec::new(),
            findings: self.findings(&closed.fights),
            figures: Figures {
                events: pair.events.len(),
                rounds: closed.rounds,
                questions: closed.questions,
                structural: closed.structural,
                time: self.began.elapsed(),
                solver: Solver::version(),
            },
            certificate: Some(Certificate { pair: Arc::clone(&self.pair), classes, spare }),
        }
    }

    fn findings(&self, fights: &[Vec<usize>; 2]) -> Vec<String> {
        let mut findings = Vec::new();
        match start::original_rests(&self.pair, self.question.effort) {
            Some(true) => {}
            Some(false) => findings.push("from some starts the original may not come to rest".to_owned()),
            None => findings.push("whether the original rests from every start: the solver gave up".to_owned()),
        }
        for (side, of) in SIDES.iter().enumerate() {
            for &f in &fights[side] {
                let fight = &self.pair.machines[side].fights()[f];
                findings.push(format!(
                    "drivers of `{}` in the {} may fight: {}",
                    fight.net,
                    of,
                    fight.drivers.join(", ")
                ));
            }
        }
        findings
    }

    /// The original's unknowns in words.
    fn unknowns(&self, met: &[(usize, Unknown)]) -> Vec<String> {
        let of = met.iter().filter(|&&(side, _)| side == ORIGINAL);
        of.map(|&(_, u)| self.pair.machines[ORIGINAL].describe(u)).collect()
    }

    /// Registers whose data, clear or preset can change in the moment of their clock.
    fn races(&self, met: &[(usize, Unknown)]) -> Vec<Hidden> {
        let races = met.iter().filter(|(_, u)| matches!(u, Unknown::Race(_) | Unknown::Recovery(_)));
        let all: BTreeSet<Hidden> = races
            .filter_map(|&(side, u)| {
                let of = if side == ORIGINAL { Of::Original } else { Of::Replacement };
                let name = self.pair.machines[side].cell_of(u)?.name.clone();
                Some(Hidden { of, name, others: Vec::new(), why: Why::Race, reaches: Vec::new() })
            })
            .collect();
        all.into_iter().collect()
    }

    fn assumptions(&self) -> Vec<String> {
        let levels = self.question.assumptions.iter().map(|a| a.text.clone());
        levels.chain(self.question.restrictions.iter().map(|r| r.text.clone())).collect()
    }

    fn refutation(&self, run: Run, shortest: bool) -> Refutation {
        let pair = &self.pair;
        let named = |&(c, high): &(usize, bool)| (pair.contacts[c].label.clone(), pair.contacts[c].name.clone(), high);
        let levels = (0..pair.contacts.len())
            .filter(|&c| pair.contacts[c].is_read)
            .map(|c| named(&(c, run.levels[c])))
            .collect();
        let start = pair.machines[REPLACEMENT]
            .cells()
            .iter()
            .zip(&run.cells)
            .filter(|(c, _)| c.start.is_none())
            .map(|(c, &b)| (c.name.clone(), b))
            .collect();
        let events = run.events.iter().map(|e| Happening { changes: e.iter().map(named).collect() }).collect();
        let explains = self.explaining(&run);
        let differences = self.differences(&run, &explains);
        let evidence = Evidence {
            circuits: [&self.question.original, &self.question.replacement].map(|c| Arc::new(c.clone())),
            starts: [explains, run.cells.clone()],
            question: Arc::new(self.question.clone()),
        };
        Refutation {
            original: self.question.original.name.clone(),
            replacement: self.question.replacement.name.clone(),
            assumptions: self.assumptions(),
            levels,
            start,
            events,
            differences,
            shortest,
            evidence,
            run,
        }
    }

    /// A start of the original that explains a run but for its last event, and of that as much as goes together.
    fn explaining(&self, run: &Run) -> Vec<bool> {
        run.explain_most(self.question.effort)
            .unwrap_or_else(|| vec![false; self.pair.machines[ORIGINAL].cells().len()])
    }

    /// What the original shows in the last event from a start that explains all before it, beside the replacement.
    fn differences(&self, run: &Run, start: &[bool]) -> Vec<Difference> {
        let pair = &self.pair;
        let word = |b: &bool| if *b { u64::MAX } else { 0 };
        let levels: Vec<u64> = run.levels.iter().map(word).collect();
        let mut point = pair.awake(ORIGINAL, &levels, &start.iter().map(word).collect::<Vec<_>>()).point;
        let mut last = (point.clone(), Vec::new());
        for event in &run.events {
            let change: Vec<_> = event.iter().map(|(c, b)| (*c, word(b))).collect();
            let stepped = pair.step(&mut Lanes::default(), ORIGINAL, &point, &change, pair.ample());
            last = (std::mem::replace(&mut point, stepped.point), stepped.views);
        }
        let Some(shown) = run.shown.last() else { return Vec::new() };
        let mut differences = Vec::new();
        for (c, joined) in pair.contacts.iter().enumerate() {
            let show = |side: usize, seen: Vec<(bool, bool)>| {
                let pull = joined.ports[side].map_or_else(Default::default, |p| pair.machines[side].ports()[p].pull);
                let mut all: Vec<Shown> = seen.into_iter().map(|(d, l)| Shown::new(d, l, pull)).collect();
                all.dedup();
                all
            };
            let seen = pair.seen(ORIGINAL, c, &last.0, &last.1, 0).into_iter().map(|(d, l)| (d & 1 == 1, l & 1 == 1));
            let (original, replacement) = (show(ORIGINAL, seen.collect()), show(REPLACEMENT, shown[c].clone()));
            if original != replacement {
                differences.push(Difference {
                    label: joined.label.clone(),
                    name: joined.name.clone(),
                    pulse_only: original.last() == replacement.last(),
                    original,
                    replacement,
                });
            }
        }
        differences
    }
}

const SIDES: [&str; 2] = ["original", "replacement"];

impl Refutation {
    /// Replays the sequence in the simulator against every start of the original. Gives, for power-up and each event,
    /// how many starts still show the same; the last one is 0. `None` if there are more than 2²⁰ starts or an unknown
    /// of the original occurs, so that counting says nothing.
    pub fn replay(&self) -> Option<Vec<u64>> {
        search::survivors(&self.run)
    }
}

#[cfg(test)]
mod tests;
