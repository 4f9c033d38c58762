//! Power-up: does every start of the replacement have a start of the original to match?
use crate::machine::{Freedom, Point, Symbolic};
use crate::solver::{Answer, Effort, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::candidates::Partner;
use super::context::apart;
use super::liar;
use super::matching::{Bit, Class, Relation};
use super::pair::{ORIGINAL, Pair, REPLACEMENT};

/// The outcome for the starts.
pub(super) enum Starts {
    /// Each has one.
    Matched,
    /// Some may have none, or the replacement may not come to rest; one that has none, if that is why.
    Open(&'static str, Option<Unmatched>),
    /// The solver gave up.
    GaveUp(String),
}

/// A start of the replacement that no start of the original matches, as far as the relation says.
pub(super) struct Unmatched {
    /// Levels at power-up, one a contact.
    pub(super) levels: Vec<bool>,
    /// What the replacement's cells hold.
    pub(super) cells: Vec<bool>,
}

/// What a cell of the original that corresponds to nothing holds at power-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Begin {
    /// This level.
    With(bool),
    /// What this cell of the replacement holds, or the opposite.
    Like(usize, bool),
}

/// What the cells of the original hold by themselves, given what those of the replacement do.
pub(super) fn spare(begin: &[Begin], replacement: &[Term]) -> Vec<Term> {
    begin
        .iter()
        .map(|b| match *b {
            Begin::With(level) => Term::constant(level),
            Begin::Like(c, opposite) => replacement.get(c).copied().unwrap_or(Term::FALSE).inverted_if(opposite),
        })
        .collect()
}

/// For each cell of the original, the cell of the replacement that it equals or opposes, a fixed value, or nothing.
fn followed(pair: &Pair, classes: &[Class]) -> Vec<Option<Result<(usize, bool), bool>>> {
    let mut of = vec![None; pair.machines[ORIGINAL].cells().len()];
    for class in classes {
        let lead = class.bits.iter().find(|((s, _), _)| *s == REPLACEMENT);
        for &((s, c), opposite) in &class.bits {
            if s != ORIGINAL {
                continue;
            }
            if class.is_constant {
                of[c] = Some(Err(opposite));
            } else if let Some(&((_, r), other)) = lead {
                of[c] = Some(Ok((r, opposite ^ other)));
            }
        }
    }
    of
}

/// The start of the original that goes with what the replacement's cells hold: bit by bit where bits correspond, by the
/// combinations that they take where they stand in another code, and `spare` for bits that match nothing.
pub(super) fn original(
    terms: &mut Terms,
    pair: &Pair,
    relation: &Relation,
    spare: &[Term],
    replacement: &[Term],
) -> Vec<Term> {
    let cells = pair.machines[ORIGINAL].cells();
    let held = |c: usize| replacement.get(c).copied().unwrap_or(Term::FALSE);
    let mut coded = vec![None; cells.len()];
    for cluster in &relation.clusters {
        for (lead, value) in cluster.start(terms, held) {
            // the whole class of the bit
            let class = relation.classes.iter().find(|c| c.bits.iter().any(|&(bit, _)| bit == (ORIGINAL, lead)));
            let bits = class.map_or(&[][..], |c| &c.bits);
            let turned = bits.iter().any(|&(bit, opposite)| bit == (ORIGINAL, lead) && opposite);
            for &((_, c), opposite) in bits {
                if let Some(slot) = coded.get_mut(c) {
                    *slot = Some(value.inverted_if(opposite != turned));
                }
            }
        }
    }
    followed(pair, &relation.classes)
        .iter()
        .zip(cells.iter().zip(coded))
        .enumerate()
        .map(|(c, (m, (cell, coded)))| match (*m, cell.start) {
            (_, Some(v)) => Term::constant(v),
            (Some(Ok((r, inverted))), None) => held(r).inverted_if(inverted),
            (Some(Err(v)), None) => Term::constant(v),
            (None, None) => coded.or(spare.get(c).copied()).unwrap_or(Term::FALSE),
        })
        .collect()
}

/// All levels that are allowed and all starts of the replacement, from which the original is to be started so that the two
/// match.
pub(super) struct Power {
    pub(super) terms: Terms,
    /// The levels of the contacts, and what the replacement's cells hold before it comes to rest.
    pub(super) levels: Vec<Term>,
    pub(super) cells: Vec<Term>,
    pub(super) allowed: Term,
    /// Where the replacement does not come to rest.
    pub(super) unsettled: Term,
    /// The replacement at rest.
    woken: Point<Term>,
    /// What its cells hold then.
    pub(super) rested: Vec<Term>,
    /// Everything that was free to choose.
    free: Vec<Term>,
}

/// The original from one start, beside the replacement at rest.
pub(super) struct Begun {
    /// What its cells hold once it has come to rest.
    pub(super) held: Vec<Term>,
    /// Where it does not come to rest.
    pub(super) unsettled: Term,
    /// Classes whose bits may come apart, and where they do.
    pub(super) apart: Vec<(usize, Term)>,
    /// Clusters that may have none of their combinations, and where they do.
    pub(super) outside: Vec<(usize, Term)>,
    /// Contacts that must be alike but may differ, and where they do.
    pub(super) differ: Vec<(usize, Term)>,
}

impl Begun {
    /// Where anything does not match.
    pub(super) fn bad(&self, terms: &mut Terms) -> Term {
        let all = self.apart.iter().chain(&self.outside).chain(&self.differ);
        all.fold(self.unsettled, |bad, a| terms.or(bad, a.1))
    }
}

impl Power {
    pub(super) fn new(pair: &Pair) -> Self {
        let mut terms = Terms::new();
        let levels: Vec<Term> =
            pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
        let fixed = pair.starts(REPLACEMENT, Some, |_| None);
        let cells: Vec<Term> = fixed
            .into_iter()
            .map(|f: Option<bool>| match f {
                Some(v) => Term::constant(v),
                None => terms.variable(),
            })
            .collect();
        let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
        let allowed = pair.allowed(&mut algebra, &levels);
        let woken = pair.awaken(&mut algebra, REPLACEMENT, &levels, &cells);
        let unknown: Vec<Term> = algebra.met.iter().map(|&(.., any)| any).collect();
        let free = levels.iter().chain(&cells).copied().chain(unknown).filter(|t| t.as_constant().is_none()).collect();
        let rested = pair.machines[REPLACEMENT].held(&woken.point);
        Power { terms, levels, cells, allowed, unsettled: woken.unsettled, woken: woken.point, rested, free }
    }

    /// The original, started in the state that the relation gives it, and as `begin` says where that gives none.
    pub(super) fn start(&mut self, pair: &Pair, relation: &Relation, begin: &[Begin]) -> Begun {
        let spare = spare(begin, &self.rested);
        self.start_with(pair, relation, &spare)
    }

    fn start_with(&mut self, pair: &Pair, relation: &Relation, spare: &[Term]) -> Begun {
        let machine = &pair.machines[ORIGINAL];
        let start = original(&mut self.terms, pair, relation, spare, &self.rested);
        let mut algebra = Symbolic::new(&mut self.terms, Freedom::Usual);
        let woken = pair.awaken(&mut algebra, ORIGINAL, &self.levels, &start);
        let of_original = machine.held(&woken.point);
        let held = [&of_original, &self.rested];
        let at = |(s, c): Bit| held[s].get(c).copied().unwrap_or(Term::FALSE);
        let apart = apart(&mut self.terms, relation.classes.iter().enumerate(), at);
        let mut outside = Vec::new();
        for (i, cluster) in relation.clusters.iter().enumerate() {
            let values: Vec<Term> = cluster.bits.iter().map(|&(bit, opposite)| at(bit).inverted_if(opposite)).collect();
            let holds = cluster.holds(&mut self.terms, &values);
            if holds != Term::TRUE {
                outside.push((i, !holds));
            }
        }
        let mut differ = Vec::new();
        for &c in &relation.alike {
            let seen = [(ORIGINAL, &woken.point), (REPLACEMENT, &self.woken)]
                .map(|(s, point)| pair.seen(s, c, point, &[], Term::FALSE));
            let alike = pair.alike(&mut self.terms, c, &seen[0], &seen[1]);
            if alike != Term::TRUE {
                differ.push((c, !alike));
            }
        }
        Begun { held: of_original, unsettled: woken.unsettled, apart, outside, differ }
    }

    /// The original at rest from the first of these starts that matches, from the last if none does: what its cells hold,
    /// and where it does not come to rest.
    pub(super) fn first_that_matches(&mut self, starts: &[Begun]) -> (Vec<Term>, Term) {
        let mut starts = starts.iter().rev();
        let Some(last) = starts.next() else { return (Vec::new(), Term::FALSE) };
        let (mut held, mut unsettled) = (last.held.clone(), last.unsettled);
        for start in starts {
            let fails = start.bad(&mut self.terms);
            for (cell, &earlier) in held.iter_mut().zip(&start.held) {
                *cell = self.terms.choose(fails, *cell, earlier);
            }
            unsettled = self.terms.choose(fails, unsettled, start.unsettled);
        }
        (held, unsettled)
    }

    /// What the board and the replacement begin with where these are the values of the variables.
    fn unmatched(&self, values: &[bool]) -> Unmatched {
        let at = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        let [levels, cells] = [&self.levels, &self.cells].map(|t| t.iter().map(|&t| at.value(t)).collect());
        Unmatched { levels, cells }
    }

    /// A start of the original that matches where these values are what the board and the replacement do; a cell that
    /// holds what its likely partner makes it is taken to do so always.
    fn another(
        &mut self,
        pair: &Pair,
        relation: &Relation,
        (values, partners): (&[bool], &[Partner]),
        solver: &mut Solver,
    ) -> Result<Option<[Vec<Begin>; 2]>, String> {
        let of = followed(pair, &relation.classes);
        let loose = |c: usize| of.get(c).is_some_and(Option::is_none);
        let any: Vec<Term> =
            (0..of.len()).map(|c| if loose(c) { self.terms.variable() } else { Term::FALSE }).collect();
        let begun = self.start_with(pair, relation, &any);
        let bad = begun.bad(&mut self.terms);
        let at = Assignment::new(&self.terms, |v| values.get(v as usize).copied().unwrap_or(false));
        let mut wanted: Vec<Term> = self.free.iter().map(|&t| t.inverted_if(!at.value(t))).collect();
        let rested: Vec<bool> = self.rested.iter().map(|&t| at.value(t)).collect();
        wanted.push(!bad);
        let found = match solver.satisfy(&self.terms, &wanted) {
            Answer::No => return Ok(None),
            Answer::Unknown(why) => return Err(why),
            Answer::Yes(found) => found,
        };
        let at = Assignment::new(&self.terms, |v| found.get(v as usize).copied().unwrap_or(false));
        let with: Vec<Begin> = any.iter().map(|&t| Begin::With(at.value(t))).collect();
        let mut like = with.clone();
        // the first partner of a cell is the likeliest
        for &(o, r, opposite) in partners.iter().rev() {
            if loose(o)
                && let (Some(slot), Some(&held)) = (like.get_mut(o), rested.get(r))
                && with.get(o) == Some(&Begin::With(held ^ opposite))
            {
                *slot = Begin::Like(r, opposite);
            }
        }
        Ok(Some([like, with]))
    }
}

/// How many starts of the original are tried beside each other.
const STARTS: usize = 12;

/// Checks the starts: whatever the board's levels and the replacement's start, does one of these starts of the original
/// match? More of them are added as they are needed. (Counterexample-guided synthesis: Solar-Lezama and others 2006.)
pub(super) fn check(
    pair: &Pair,
    relation: &Relation,
    begins: &mut Vec<Vec<Begin>>,
    partners: impl FnOnce() -> Vec<Partner>,
    effort: Effort,
) -> Starts {
    let mut power = Power::new(pair);
    let mut solver = Solver::new(effort);
    match liar::heard(solver.satisfy(&power.terms, &[power.allowed, power.unsettled])) {
        Answer::No => {}
        Answer::Yes(_) => return Starts::Open("the replacement may not come to rest at power-up", None),
        Answer::Unknown(why) => return Starts::GaveUp(why),
    }
    let none = "a start of the replacement has no start of the original in the matching";
    let mut wanted = vec![power.allowed];
    let (mut tried, mut partners) = (0, Err(partners));
    loop {
        for begin in &begins[tried..] {
            let begun = power.start(pair, relation, begin);
            wanted.push(begun.bad(&mut power.terms));
        }
        tried = begins.len();
        let values = match liar::heard(solver.satisfy(&power.terms, &wanted)) {
            Answer::No => return Starts::Matched,
            Answer::Unknown(why) => return Starts::GaveUp(why),
            Answer::Yes(values) => values,
        };
        if tried >= STARTS {
            let why = "no few starts of the original are enough to match every start of the replacement";
            return Starts::Open(why, None);
        }
        let likely = match partners {
            Ok(likely) => likely,
            Err(partners) => partners(),
        };
        let another = match power.another(pair, relation, (&values, &likely), &mut solver) {
            Ok(another) => another,
            Err(why) => return Starts::GaveUp(why),
        };
        partners = Ok(likely);
        let new = another.into_iter().flatten().find(|b| !begins.contains(b));
        match new {
            Some(begin) => begins.push(begin),
            None => return Starts::Open(none, Some(power.unmatched(&values))),
        }
    }
}

/// Whether the original comes to rest from every start and all levels that are allowed; `None` if the solver gave up. A
/// start that doesn't rest is no failure: the match just never chooses it.
pub(super) fn original_rests(pair: &Pair, effort: Effort) -> Option<bool> {
    let mut terms = Terms::new();
    let levels: Vec<Term> =
        pair.contacts.iter().map(|c| if c.is_free { terms.variable() } else { Term::FALSE }).collect();
    let fixed = pair.starts(ORIGINAL, Some, |_| None);
    let cells: Vec<Term> =
        fixed.into_iter().map(|f: Option<bool>| f.map_or_else(|| terms.variable(), Term::constant)).collect();
    let mut algebra = Symbolic::new(&mut terms, Freedom::Free);
    let allowed = pair.allowed(&mut algebra, &levels);
    let woken = pair.awaken(&mut algebra, ORIGINAL, &levels, &cells);
    match Solver::new(effort).satisfy(&terms, &[allowed, woken.unsettled]) {
        Answer::No => Some(true),
        Answer::Yes(_) => Some(false),
        Answer::Unknown(_) => None,
    }
}
