//! A check of a refutation: each lemma must follow from clauses that stand, by propagation through those that the proof
//! names for it, in their order, the last of which becomes false.
//!
//! Cruz-Filipe, Heule, Hunt, Kaufmann, Schneider-Kamp, "Efficient Certified RAT Verification", 2017 (LRAT: the criterion
//! without its second kind of lemma, which is not accepted). Deletions are passed over: to keep a clause is always sound.
use std::collections::{BTreeSet, HashMap, HashSet};

use varisat::Lit;
use varisat::checker::{CheckedProofStep, CheckerData, ProofProcessor};

type Clause = BTreeSet<Lit>;

/// Clauses that stand, by the numbers that the proof gives them.
pub struct Hinted {
    /// What was asked: nothing else stands without a proof.
    asked: HashSet<Clause>,
    clauses: HashMap<u64, Clause>,
    /// Lemmas that hold.
    pub lemmas: usize,
}

impl Hinted {
    /// A check of a refutation of these clauses.
    pub fn new(asked: &[Vec<Lit>]) -> Hinted {
        let asked = asked.iter().map(|clause| clause.iter().copied().collect()).collect();
        Hinted { asked, clauses: HashMap::new(), lemmas: 0 }
    }

    /// Whether the empty clause stands.
    pub fn is_refuted(&self) -> bool {
        self.clauses.values().any(Clause::is_empty)
    }

    /// Takes a clause if it is one of those that were asked.
    pub fn given(&mut self, id: u64, clause: Clause) {
        if self.asked.contains(&clause) {
            self.clauses.insert(id, clause);
        }
    }

    /// Takes a lemma if it follows through the clauses of these numbers.
    pub fn lemma(&mut self, id: u64, clause: Clause, hints: &[u64]) {
        let mut lies: Clause = clause.iter().copied().collect();
        for hint in hints {
            let Some(of) = self.clauses.get(hint) else { return };
            let mut open = of.iter().filter(|l| !lies.contains(l));
            match (open.next(), open.next()) {
                (None, _) => {
                    self.clauses.insert(id, clause);
                    self.lemmas += 1;
                    return;
                }
                (Some(&last), None) => drop(lies.insert(!last)),
                _ => return,
            }
        }
    }
}

impl ProofProcessor for Hinted {
    fn process_step(&mut self, step: &CheckedProofStep<'_>, data: CheckerData<'_, '_>) -> Result<(), anyhow::Error> {
        // clauses are kept over the variables that were asked about, whatever the solver calls them
        let user = |l: &Lit| data.user_from_proof_var(l.var()).map(|v| Lit::from_var(v, l.is_positive()));
        let told = |clause: &[Lit]| clause.iter().map(user).collect::<Option<Clause>>();
        match step {
            CheckedProofStep::AddClause { id, clause } => told(clause).into_iter().for_each(|c| self.given(*id, c)),
            CheckedProofStep::AtClause { id, clause, propagations, .. } => {
                told(clause).into_iter().for_each(|c| self.lemma(*id, c, propagations));
            }
            _ => {}
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clause(numbers: &[isize]) -> Vec<Lit> {
        numbers.iter().map(|&n| Lit::from_dimacs(n)).collect()
    }

    fn with(clauses: &[&[isize]]) -> Hinted {
        let asked: Vec<Vec<Lit>> = clauses.iter().map(|c| clause(c)).collect();
        let mut check = Hinted::new(&asked);
        asked.into_iter().enumerate().for_each(|(i, c)| check.given(i as u64 + 1, c.into_iter().collect()));
        check
    }

    fn lemma(check: &mut Hinted, id: u64, of: &[isize], hints: &[u64]) -> bool {
        let before = check.lemmas;
        check.lemma(id, clause(of).into_iter().collect(), hints);
        check.lemmas > before
    }

    #[test]
    fn a_refutation_is_taken_and_a_leap_is_not() {
        let all: &[&[isize]] = &[&[1, 2], &[1, -2], &[-1, 2], &[-1, -2]];
        let mut whole = with(all);
        assert!(lemma(&mut whole, 5, &[1], &[1, 2]) && !whole.is_refuted());
        assert!(lemma(&mut whole, 6, &[], &[5, 3, 4]) && whole.is_refuted());
        // three of the four have a model; a hint that is no clause; a clause that is not asked
        assert!(!lemma(&mut with(&all[..3]), 5, &[], &[1, 2, 3]));
        assert!(!lemma(&mut with(&all[..3]), 5, &[1], &[1, 4]));
        let mut other = with(all);
        other.given(9, Clause::new());
        assert!(!other.is_refuted());
        // hints in an order in which the first of them forces nothing
        assert!(!lemma(&mut with(all), 5, &[], &[3, 4]));
        // eight clauses over four variables: the worked example of DRAT-trim's authors (Wetzler, Heule, Hunt 2014)
        let mut eight = with(&[
            &[1, 2, -3],
            &[-1, -2, 3],
            &[2, 3, -4],
            &[-2, -3, 4],
            &[-1, -3, -4],
            &[1, 3, 4],
            &[-1, 2, 4],
            &[1, -2, -4],
        ]);
        assert!(lemma(&mut eight, 9, &[1, 2], &[1, 6, 3]));
        assert!(lemma(&mut eight, 10, &[1], &[9, 8, 6, 4]));
        assert!(lemma(&mut eight, 11, &[2], &[10, 7, 5, 3]));
        assert!(!lemma(&mut eight, 12, &[], &[10, 2, 4, 5]), "2 is not yet forced");
        assert!(lemma(&mut eight, 12, &[], &[10, 11, 2, 4, 5]) && eight.is_refuted());
    }
}
