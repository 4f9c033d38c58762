//! Values of terms under an assignment of the variables.
use super::{Node, Term, Terms};

/// The value of every term of a graph under one assignment of its variables.
#[derive(Clone, Debug)]
pub struct Assignment(Vec<bool>);

impl Assignment {
    /// Evaluates the whole graph; `variable` gives each variable's value by its number.
    pub fn new(terms: &Terms, mut variable: impl FnMut(u32) -> bool) -> Self {
        let mut values: Vec<bool> = Vec::with_capacity(terms.nodes.len());
        for node in &terms.nodes {
            let at = |t: Term| values.get(t.node()).copied().unwrap_or(false) ^ t.is_inverted();
            values.push(match *node {
                Node::False => false,
                Node::Variable(v) => variable(v),
                Node::And(a, b) => at(a) && at(b),
            });
        }
        Assignment(values)
    }

    /// The value of a term that was in the graph when this was made; false for a later one.
    pub fn value(&self, term: Term) -> bool {
        self.0.get(term.node()).copied().unwrap_or(false) ^ term.is_inverted()
    }
}
