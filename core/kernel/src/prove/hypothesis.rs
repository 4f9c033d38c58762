//! Assumptions of a solver query, kept in parts. A query sees only the parts that share variables with it, directly or
//! through others; it sees all of them where its answer can't be completed over the rest.
use std::collections::HashSet;
use std::sync::OnceLock;

use crate::solver::{Answer, Solver};
use crate::terms::{Assignment, Term, Terms};

use super::liar;

/// Terms that are taken to hold.
#[derive(Clone, Debug, Default)]
pub(super) struct Hypothesis {
    parts: Vec<Term>,
    /// The variables that each part hangs on.
    supports: Vec<Vec<u32>>,
    /// Values under which all parts hold, once somebody needed them; none if the solver found none.
    model: OnceLock<Option<Vec<bool>>>,
}

impl Hypothesis {
    /// All of these; what holds anyway is left out.
    pub(super) fn of(terms: &Terms, parts: impl IntoIterator<Item = Term>) -> Self {
        let mut all = Hypothesis::default();
        all.extend(terms, parts);
        all
    }

    /// These besides.
    pub(super) fn extend(&mut self, terms: &Terms, parts: impl IntoIterator<Item = Term>) {
        for part in parts.into_iter().filter(|&p| p != Term::TRUE) {
            self.supports.push(terms.support(part));
            self.parts.push(part);
        }
        self.model = OnceLock::new();
    }

    /// The first so many alone.
    pub(super) fn truncate(&mut self, count: usize) {
        self.parts.truncate(count);
        self.supports.truncate(count);
        self.model = OnceLock::new();
    }

    /// Its parts, in the order in which they came.
    pub(super) fn parts(&self) -> &[Term] {
        &self.parts
    }

    /// Can these goals be met under it? Asks under the part of it that shares variables with the question, directly or
    /// through other parts: what can't happen under that can't happen under all of it. What can is put together with values
    /// of the other parts, which know nothing of the question.
    pub(super) fn ask(&self, solver: &mut Solver, terms: &Terms, goals: &[Term]) -> Answer {
        if goals.contains(&Term::FALSE) {
            return Answer::No;
        }
        let mut reached: HashSet<u32> = terms.support_of(goals.iter().copied()).into_iter().collect();
        let mut wanted = vec![false; self.parts.len()];
        loop {
            let mut moved = false;
            for (taken, support) in wanted.iter_mut().zip(&self.supports) {
                if !*taken && support.iter().any(|v| reached.contains(v)) {
                    *taken = true;
                    moved = true;
                    reached.extend(support.iter().copied());
                }
            }
            if !moved {
                break;
            }
        }
        let near = self.parts.iter().zip(&wanted).filter(|&(_, &w)| w).map(|(&h, _)| h);
        let near: Vec<Term> = near.chain(goals.iter().copied()).collect();
        let answer = liar::heard(solver.satisfy(terms, &near));
        if matches!(answer, Answer::No) || wanted.iter().all(|&w| w) {
            return answer;
        }
        let all: Vec<Term> = self.parts.iter().chain(goals).copied().collect();
        if let (Answer::Yes(values), Some(model)) = (&answer, self.model(solver, terms)) {
            let at = |of: &[bool], v: usize| of.get(v).copied().unwrap_or(false);
            let value = |v: u32| at(if reached.contains(&v) { values } else { model }, v as usize);
            let joined: Vec<bool> = (0..terms.variable_count() as u32).map(value).collect();
            let check = Assignment::of(terms, all.iter().copied(), |v| at(&joined, v as usize));
            if all.iter().all(|&t| check.value(t)) {
                return Answer::Yes(joined);
            }
        }
        liar::heard(solver.satisfy(terms, &all))
    }

    fn model(&self, solver: &mut Solver, terms: &Terms) -> Option<&Vec<bool>> {
        let model = self.model.get_or_init(|| match solver.satisfy(terms, &self.parts) {
            Answer::Yes(values) => Some(values),
            Answer::No | Answer::Unknown(_) => None,
        });
        model.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solver::Effort;

    /// Two parts that share no variable: a question about one is answered with values under which both hold, and a question
    /// that the other forbids by itself is answered no.
    #[test]
    fn an_answer_holds_under_all_parts() {
        let mut terms = Terms::new();
        let v: Vec<Term> = (0..4).map(|_| terms.variable()).collect();
        let (one, other) = (terms.xor(v[0], v[1]), terms.and(!v[2], v[3]));
        let mut solver = Solver::new(Effort::default());
        let mut hypothesis = Hypothesis::of(&terms, [one, Term::TRUE, other]);
        assert_eq!(hypothesis.parts(), [one, other]);
        let Answer::Yes(values) = hypothesis.ask(&mut solver, &terms, &[v[0]]) else { panic!("it can be met") };
        assert_eq!(values, [true, false, false, true]);
        assert!(matches!(hypothesis.ask(&mut solver, &terms, &[v[2]]), Answer::No));
        // with more that is assumed, values from before are none
        hypothesis.extend(&terms, [!v[3]]);
        assert!(matches!(hypothesis.ask(&mut solver, &terms, &[v[0]]), Answer::No));
        hypothesis.truncate(2);
        assert!(matches!(hypothesis.ask(&mut solver, &terms, &[v[0]]), Answer::Yes(_)));
    }
}
