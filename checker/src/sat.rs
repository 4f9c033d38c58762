//! The door to the solver: can these functions all be true? An answer *no* counts only once its proof has been checked.
use std::collections::HashSet;

use varisat::{ExtendFormula, Lit as SolverLit, Solver};

use crate::graph::{Graph, Lit, Node, value};
use crate::hinted::Hinted;
use crate::verdict::Verdict;

/// What was asked, and what came of it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counts {
    /// Questions to the solver.
    pub questions: usize,
    /// Proofs that were checked.
    pub proofs: usize,
    /// Lemmas in them.
    pub lemmas: usize,
}

/// Asks whether all of these can be true at once: the value of every node of the graph if they can, and nothing if the
/// solver's proof that they can't holds. Where nothing can be said, that is an objection.
pub fn ask(graph: &Graph, all: &[Lit], verdict: &mut Verdict) -> Option<Vec<bool>> {
    if all.contains(&Lit::FALSE) || all.iter().any(|&a| all.contains(&!a)) {
        return None;
    }
    verdict.counts.questions += 1;
    let clauses = clauses(graph, all);
    let mut check = Hinted::new(&clauses);
    let mut solver = Solver::new();
    solver.add_proof_processor(&mut check);
    clauses.iter().for_each(|clause| solver.add_clause(clause));
    let outcome = solver.solve().and_then(|sat| solver.close_proof().map(|()| sat));
    let model = solver.model().unwrap_or_default();
    drop(solver);
    if matches!(outcome, Ok(false)) && check.is_refuted() {
        verdict.counts.proofs += 1;
        verdict.counts.lemmas += check.lemmas;
        return None;
    }
    let high: HashSet<usize> = model.iter().filter(|l| l.is_positive()).map(|l| l.index()).collect();
    let values = graph.values(|node| high.contains(&node));
    if matches!(outcome, Ok(true)) && all.iter().all(|&a| value(&values, a)) {
        return Some(values);
    }
    verdict.objects(format!("the solver's answer {outcome:?} to a question comes with no proof or model that holds"));
    None
}

/// The clauses that say that all of these are true (Tseitin 1968): a node is the variable of its number.
fn clauses(graph: &Graph, all: &[Lit]) -> Vec<Vec<SolverLit>> {
    let of = |x: Lit| SolverLit::from_index(x.node(), !x.is_inverted());
    let mut clauses: Vec<Vec<SolverLit>> = all.iter().map(|&a| vec![of(a)]).collect();
    for n in graph.below(all.iter().copied()) {
        let x = SolverLit::from_index(n, true);
        match graph.node(n) {
            Node::False => clauses.push(vec![!x]),
            Node::Free => {}
            Node::And(a, b) => clauses.extend([vec![!x, of(a)], vec![!x, of(b)], vec![x, !of(a), !of(b)]]),
        }
    }
    clauses
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The pigeonhole principle (Haken 1985): four pigeons do not fit into three holes, three do.
    #[test]
    #[expect(clippy::needless_range_loop, reason = "a hole is the index of several pigeons")]
    fn pigeons_and_holes() {
        for pigeons in [3, 4] {
            let mut g = Graph::default();
            let at: Vec<Vec<Lit>> = (0..pigeons).map(|_| (0..3).map(|_| g.free()).collect()).collect();
            let mut all: Vec<Lit> = at.iter().map(|holes| g.any(holes.clone())).collect();
            for hole in 0..3 {
                for a in 0..pigeons {
                    for b in 0..a {
                        let both = g.and(at[a][hole], at[b][hole]);
                        all.push(!both);
                    }
                }
            }
            let mut verdict = Verdict::default();
            assert_eq!(ask(&g, &all, &mut verdict).is_some(), pigeons == 3);
            assert!(verdict.stands());
            assert_eq!(verdict.counts.proofs, usize::from(pigeons == 4));
        }
    }
}
