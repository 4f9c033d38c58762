//! Values of terms under an assignment of the variables.
use super::{Node, Term, Terms};

/// The value of terms of a graph under one assignment of its variables.
#[derive(Clone, Debug)]
pub struct Assignment(Vec<bool>);

impl Assignment {
    /// Evaluates the whole graph; `variable` gives each variable's value by its number.
    pub fn new(terms: &Terms, variable: impl FnMut(u32) -> bool) -> Self {
        Assignment::evaluated(terms, &vec![true; terms.nodes.len()], variable)
    }

    /// Evaluates these terms and their cones: for a question about a small part of a large graph.
    pub fn of(terms: &Terms, roots: impl IntoIterator<Item = Term>, variable: impl FnMut(u32) -> bool) -> Self {
        let roots: Vec<usize> = roots.into_iter().map(Term::node).collect();
        let last = roots.iter().max().map_or(0, |&n| n + 1).min(terms.nodes.len());
        let mut asked = vec![false; last];
        let ask = |n: usize, asked: &mut Vec<bool>| asked.get_mut(n).into_iter().for_each(|a| *a = true);
        roots.into_iter().for_each(|n| ask(n, &mut asked));
        // operands stand before what reads them
        for n in (0..last).rev() {
            if let (Some(true), Some(Node::And(a, b))) = (asked.get(n), terms.nodes.get(n)) {
                ask(a.node(), &mut asked);
                ask(b.node(), &mut asked);
            }
        }
        Assignment::evaluated(terms, &asked, variable)
    }

    fn evaluated(terms: &Terms, asked: &[bool], mut variable: impl FnMut(u32) -> bool) -> Self {
        let mut values = vec![false; asked.len()];
        for (n, node) in terms.nodes.iter().enumerate().take(asked.len()).filter(|&(n, _)| asked[n]) {
            let at = |t: Term| values.get(t.node()).copied().unwrap_or(false) ^ t.is_inverted();
            values[n] = match *node {
                Node::False => false,
                Node::Variable(v) => variable(v),
                Node::And(a, b) => at(a) && at(b),
            };
        }
        Assignment(values)
    }

    /// The value of a term that was asked for when this was made; of another one nothing is known, and it reads false.
    pub fn value(&self, term: Term) -> bool {
        self.0.get(term.node()).copied().unwrap_or(false) ^ term.is_inverted()
    }
}
