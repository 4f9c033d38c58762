//! The door to the solver: can these functions all be true? An answer *no* counts only once its proof has been checked.
use std::collections::HashMap;

use varisat::{ExtendFormula, Lit as SolverLit, ProofFormat, Solver};

use crate::graph::{Graph, Lit, Node, value};
use crate::rup::Propagation;

/// The answer.
#[derive(Clone, Debug)]
pub enum Answer {
    /// They can't, and the solver's proof of it holds.
    Never,
    /// They can: the value of every node of the graph.
    Model(Vec<bool>),
    /// Nothing can be said.
    Unknown(String),
}

/// What was asked, and what came of it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counts {
    /// Questions that were seen to be settled without a solver: a constant.
    pub constant: usize,
    /// Questions to the solver.
    pub questions: usize,
    /// Proofs that were checked.
    pub proofs: usize,
    /// Lemmas in them.
    pub lemmas: usize,
}

/// Asks whether all of these can be true at once.
pub fn ask(graph: &Graph, all: &[Lit], counts: &mut Counts) -> Answer {
    if all.contains(&Lit::FALSE) || all.iter().any(|&a| all.contains(&!a)) {
        counts.constant += 1;
        return Answer::Never;
    }
    let (clauses, numbers) = clauses(graph, all);
    counts.questions += 1;
    let mut proof = Vec::new();
    let outcome = {
        let mut solver = Solver::new();
        solver.write_proof(&mut proof, ProofFormat::Drat);
        for clause in &clauses {
            let literals: Vec<SolverLit> = clause.iter().map(|&l| SolverLit::from_dimacs(l as isize)).collect();
            solver.add_clause(&literals);
        }
        let outcome = solver.solve().map(|sat| sat.then(|| solver.model().unwrap_or_default()));
        match solver.close_proof() {
            Ok(()) => outcome.map_err(|e| e.to_string()),
            Err(e) => Err(e.to_string()),
        }
    };
    match outcome {
        Err(e) => Answer::Unknown(format!("the solver gave up: {e}")),
        Ok(Some(model)) => {
            let mut high = vec![false; graph.size()];
            for literal in model {
                let variable = literal.var().to_dimacs() as i32;
                if let Some(slot) = numbers.get(&variable).and_then(|&n| high.get_mut(n)) {
                    *slot = literal.is_positive();
                }
            }
            let values = graph.values(|i| high.get(i).copied().unwrap_or(false));
            if all.iter().all(|&a| value(&values, a)) {
                Answer::Model(values)
            } else {
                Answer::Unknown("the solver's model is none".to_owned())
            }
        }
        Ok(None) => {
            let mut check = Propagation::default();
            clauses.iter().for_each(|c| check.add(c));
            match check.check(&String::from_utf8_lossy(&proof)) {
                Ok(lemmas) => {
                    counts.proofs += 1;
                    counts.lemmas += lemmas;
                    Answer::Never
                }
                Err(why) => Answer::Unknown(why),
            }
        }
    }
}

/// The clauses that say that all of these are true (Tseitin 1968), and the node of each variable.
fn clauses(graph: &Graph, all: &[Lit]) -> (Vec<Vec<i32>>, HashMap<i32, usize>) {
    let mut number: HashMap<usize, i32> = HashMap::new();
    let mut stack: Vec<usize> = all.iter().map(|a| a.node()).collect();
    let mut wanted = Vec::new();
    while let Some(n) = stack.pop() {
        if number.contains_key(&n) {
            continue;
        }
        number.insert(n, number.len() as i32 + 1);
        wanted.push(n);
        if let Node::And(a, b) = graph.node(n) {
            stack.extend([a.node(), b.node()]);
        }
    }
    let of = |x: Lit| {
        let n = number.get(&x.node()).copied().unwrap_or(0);
        if x.is_inverted() { -n } else { n }
    };
    let mut clauses: Vec<Vec<i32>> = all.iter().map(|&a| vec![of(a)]).collect();
    for &n in &wanted {
        let Some(&x) = number.get(&n) else { continue };
        match graph.node(n) {
            Node::False => clauses.push(vec![-x]),
            Node::Free => {}
            Node::And(a, b) => {
                clauses.extend([vec![-x, of(a)], vec![-x, of(b)], vec![x, -of(a), -of(b)]]);
            }
        }
    }
    (clauses, number.into_iter().map(|(n, v)| (v, n)).collect())
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
            let mut counts = Counts::default();
            match ask(&g, &all, &mut counts) {
                Answer::Never => assert_eq!(pigeons, 4),
                Answer::Model(_) => assert_eq!(pigeons, 3),
                Answer::Unknown(why) => panic!("{why}"),
            }
            assert_eq!(counts.proofs, usize::from(pigeons == 4));
        }
    }
}
