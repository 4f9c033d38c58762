//! Hash-consed Boolean terms: the algebra of proofs. A term is an and-inverter graph's edge; equal terms have equal
//! handles, so that most equalities are seen without a solver.
mod evaluate;
mod mixing;
mod smt;
mod table;

use std::collections::{HashMap, HashSet};

pub use evaluate::Assignment;
use mixing::Mixing;
pub(crate) use table::Table;

/// A Boolean term: a node of the graph, possibly inverted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Term(u32);

impl Term {
    /// False.
    pub const FALSE: Term = Term(0);
    /// True.
    pub const TRUE: Term = Term(1);

    /// The constant of this value.
    pub const fn constant(value: bool) -> Term {
        if value { Term::TRUE } else { Term::FALSE }
    }

    /// The value, if the term is a constant.
    pub fn as_constant(self) -> Option<bool> {
        match self {
            Term::FALSE => Some(false),
            Term::TRUE => Some(true),
            _ => None,
        }
    }

    /// The node of the graph.
    pub fn node(self) -> usize {
        (self.0 >> 1) as usize
    }

    /// Whether the edge inverts.
    pub fn is_inverted(self) -> bool {
        self.0 & 1 == 1
    }

    /// This term, inverted if asked.
    pub fn inverted_if(self, invert: bool) -> Term {
        Term(self.0 ^ u32::from(invert))
    }
}

impl std::ops::Not for Term {
    type Output = Term;
    fn not(self) -> Term {
        Term(self.0 ^ 1)
    }
}

/// A node of the graph.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Node {
    /// False.
    False,
    /// A free variable, counted from 0.
    Variable(u32),
    /// The conjunction of two terms.
    And(Term, Term),
}

/// Conjunctions of up to this many terms are put in order, so that (a ∧ b) ∧ c and a ∧ (b ∧ c) are one node.
const FLAT: usize = 12;

/// How deep a term is looked into for what its context decides.
const GLANCE: usize = 6;

/// A graph of shared terms.
#[derive(Clone, Debug)]
pub struct Terms {
    nodes: Vec<Node>,
    index: HashMap<(Term, Term), Term, Mixing>,
    variables: u32,
}

impl Default for Terms {
    fn default() -> Self {
        Terms::new()
    }
}

impl Terms {
    /// A graph that holds the constants.
    pub fn new() -> Self {
        Terms { nodes: vec![Node::False], index: HashMap::default(), variables: 0 }
    }

    /// A new free variable.
    pub fn variable(&mut self) -> Term {
        let term = self.push(Node::Variable(self.variables));
        self.variables += 1;
        term
    }

    /// The variable of this number, if there is one.
    pub(crate) fn variable_of(&self, number: u32) -> Option<Term> {
        let at = self.nodes.iter().position(|n| *n == Node::Variable(number))?;
        Some(Term((at as u32) << 1))
    }

    /// How many variables there are.
    pub fn variable_count(&self) -> usize {
        self.variables as usize
    }

    /// How many nodes there are.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Whether nothing but the constants is there.
    pub fn is_empty(&self) -> bool {
        self.nodes.len() == 1
    }

    /// What a term's node is.
    pub fn node(&self, term: Term) -> Node {
        self.nodes.get(term.node()).copied().unwrap_or(Node::False)
    }

    /// The two operands of a conjunction; the term itself twice for anything else.
    pub fn and_operands(&self, term: Term) -> (Term, Term) {
        match self.node(term) {
            Node::And(a, b) => (a, b),
            Node::False | Node::Variable(_) => (term, term),
        }
    }

    /// And.
    pub fn and(&mut self, a: Term, b: Term) -> Term {
        let (a, b) = (a.min(b), a.max(b));
        match a {
            Term::FALSE => return Term::FALSE,
            Term::TRUE => return b,
            _ if a == b => return a,
            _ if a == !b => return Term::FALSE,
            _ => {}
        }
        // one level of absorption, contradiction and substitution
        for (x, y) in [(a, b), (b, a)] {
            if let Node::And(p, q) = self.node(x) {
                if !x.is_inverted() {
                    if p == y || q == y {
                        return x;
                    }
                    if p == !y || q == !y {
                        return Term::FALSE;
                    }
                } else {
                    if p == !y || q == !y {
                        return y;
                    }
                    if p == y {
                        return self.and(y, !q);
                    }
                    if q == y {
                        return self.and(y, !p);
                    }
                }
            }
        }
        if let Some(&t) = self.index.get(&(a, b)) {
            return t;
        }
        let mut leaves = Vec::with_capacity(2 * FLAT);
        if self.conjuncts(a, &mut leaves) && self.conjuncts(b, &mut leaves) && leaves.len() > 2 {
            leaves.sort_unstable();
            leaves.dedup();
            // a term and its inverse stand side by side
            if leaves.windows(2).any(|w| w[0] == !w[1]) {
                return Term::FALSE;
            }
            let whole = leaves.iter().copied().reduce(|x, y| self.pair(x, y)).unwrap_or(Term::TRUE);
            self.index.insert((a, b), whole);
            return whole;
        }
        self.pair(a, b)
    }

    /// The terms whose conjunction this is; false if they are too many to be put in order.
    fn conjuncts(&self, term: Term, leaves: &mut Vec<Term>) -> bool {
        let mut rest = term;
        // chains lean to the left: see `and`
        while let (Node::And(a, b), false) = (self.node(rest), rest.is_inverted()) {
            let (chain, leaf) = if self.is_conjunction(a) { (a, b) } else { (b, a) };
            if self.is_conjunction(leaf) || leaves.len() + 1 > FLAT {
                return false;
            }
            leaves.push(leaf);
            rest = chain;
        }
        leaves.push(rest);
        leaves.len() <= FLAT
    }

    fn is_conjunction(&self, term: Term) -> bool {
        !term.is_inverted() && matches!(self.node(term), Node::And(..))
    }

    /// The node of two terms, as they stand.
    fn pair(&mut self, a: Term, b: Term) -> Term {
        let key = (a.min(b), a.max(b));
        if let Some(&t) = self.index.get(&key) {
            return t;
        }
        let term = self.push(Node::And(key.0, key.1));
        self.index.insert(key, term);
        term
    }

    /// Or.
    pub fn or(&mut self, a: Term, b: Term) -> Term {
        !self.and(!a, !b)
    }

    /// Exclusive or.
    pub fn xor(&mut self, a: Term, b: Term) -> Term {
        if let Some(v) = a.as_constant() {
            return b.inverted_if(v);
        }
        if let Some(v) = b.as_constant() {
            return a.inverted_if(v);
        }
        if a.node() == b.node() {
            return Term::constant(a != b);
        }
        // the inversions come out, so that x ⊕ y and ¬x ⊕ y share their node
        let invert = a.is_inverted() ^ b.is_inverted();
        let (a, b) = (a.inverted_if(a.is_inverted()), b.inverted_if(b.is_inverted()));
        let (one, other) = (self.and(a, !b), self.and(!a, b));
        self.or(one, other).inverted_if(invert)
    }

    /// True while the two are equal.
    pub fn equal(&mut self, a: Term, b: Term) -> Term {
        !self.xor(a, b)
    }

    /// `then` where `when`, `otherwise` elsewhere.
    pub fn choose(&mut self, when: Term, then: Term, otherwise: Term) -> Term {
        match when {
            Term::TRUE => return then,
            Term::FALSE => return otherwise,
            _ if then == otherwise => return then,
            _ if then == !otherwise => return self.equal(when, then),
            _ => {}
        }
        // on either way the condition is known
        let (then, otherwise) = (self.known(then, when), self.known(otherwise, !when));
        if then == otherwise {
            return then;
        }
        let (one, other) = (self.and(when, then), self.and(!when, otherwise));
        self.or(one, other)
    }

    /// A term that is equal to this one wherever `when` holds, simpler if that is seen at a glance.
    fn known(&mut self, term: Term, when: Term) -> Term {
        let mut context = Vec::with_capacity(FLAT);
        if !self.conjuncts(when, &mut context) {
            context = vec![when];
        }
        self.under(term, &context, GLANCE)
    }

    fn under(&mut self, term: Term, context: &[Term], depth: usize) -> Term {
        if context.contains(&term) {
            return Term::TRUE;
        }
        if context.contains(&!term) {
            return Term::FALSE;
        }
        let (Node::And(a, b), 1..) = (self.node(term), depth) else { return term };
        let (x, y) = (self.under(a, context, depth - 1), self.under(b, context, depth - 1));
        if (x, y) == (a, b) { term } else { self.and(x, y).inverted_if(term.is_inverted()) }
    }

    /// The variables that a term hangs on, in rising order.
    pub fn support(&self, term: Term) -> Vec<u32> {
        self.support_of([term])
    }

    /// The variables that any of these terms hangs on, in rising order.
    pub(crate) fn support_of(&self, terms: impl IntoIterator<Item = Term>) -> Vec<u32> {
        let mut seen = HashSet::new();
        let mut stack: Vec<usize> = terms.into_iter().map(Term::node).collect();
        let mut variables = Vec::new();
        while let Some(n) = stack.pop() {
            if !seen.insert(n) {
                continue;
            }
            match self.nodes.get(n) {
                Some(Node::And(a, b)) => stack.extend([a.node(), b.node()]),
                Some(Node::Variable(v)) => variables.push(*v),
                Some(Node::False) | None => {}
            }
        }
        variables.sort_unstable();
        variables
    }

    /// And over any number.
    pub fn all(&mut self, of: impl IntoIterator<Item = Term>) -> Term {
        of.into_iter().fold(Term::TRUE, |a, b| self.and(a, b))
    }

    /// Or over any number.
    pub fn any(&mut self, of: impl IntoIterator<Item = Term>) -> Term {
        of.into_iter().fold(Term::FALSE, |a, b| self.or(a, b))
    }

    fn push(&mut self, node: Node) -> Term {
        let term = Term((self.nodes.len() as u32) << 1);
        self.nodes.push(node);
        term
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn equal_functions_that_differ_in_inversions_share_a_node() {
        let mut g = Terms::new();
        let (a, b) = (g.variable(), g.variable());
        let x = g.xor(a, b);
        assert_eq!(g.xor(!a, b), !x);
        assert_eq!(g.choose(a, !b, b), x);
        assert_eq!(g.and(x, !x), Term::FALSE);
    }

    #[test]
    fn what_a_graph_says_of_itself() {
        let mut g = Terms::new();
        assert!(g.is_empty());
        let (a, b, c) = (g.variable(), g.variable(), g.variable());
        let (x, y) = (g.and(a, !b), g.xor(a, b));
        assert_eq!((g.is_empty(), g.variable_count(), x.node() + 1), (false, 3, 5));
        assert_eq!([0, 1, 2, 3].map(|n| g.variable_of(n)), [Some(a), Some(b), Some(c), None]);
        assert_eq!((g.support(x), g.support(!y), g.support(Term::TRUE)), (vec![0, 1], vec![0, 1], vec![]));
        assert_eq!(g.support_of([c, x, a]), [0, 1, 2]);
        assert_eq!((g.and_operands(!x), g.and_operands(a), g.and_operands(!a)), ((a, !b), (a, a), (!a, !a)));
        assert_eq!([x, !x].map(Term::is_inverted), [false, true]);
        assert_eq!([Term::FALSE, Term::TRUE, a].map(Term::as_constant), [Some(false), Some(true), None]);
        assert_eq!(g.len(), y.node() + 1);
        let either = g.or(a, b);
        assert_eq!((g.any([a, b]), g.all([a, !b]), g.any([]), g.all([])), (either, x, Term::FALSE, Term::TRUE));
    }

    /// Two sides of a proof whose functions are folded alike need no solver: what the proof's speed and its tables stand on.
    #[test]
    fn what_is_seen_at_a_glance_needs_no_new_node() {
        let mut g = Terms::new();
        let (a, b, c, d) = (g.variable(), g.variable(), g.variable(), g.variable());
        let ab = g.and(a, b);
        assert_eq!([g.and(a, ab), g.and(b, ab), g.and(ab, a)], [ab; 3], "absorbed");
        assert_eq!([g.and(!a, ab), g.and(!b, ab)], [Term::FALSE; 2], "contradicted");
        assert_eq!([g.and(!a, !ab), g.and(!b, !ab)], [!a, !b], "implied");
        let (only_a, only_b) = (g.and(a, !b), g.and(b, !a));
        assert_eq!([g.and(a, !ab), g.and(b, !ab)], [only_a, only_b], "substituted");
        let (bc, cd) = (g.and(b, c), g.and(c, d));
        let (left, right) = (g.and(ab, c), g.and(a, bc));
        assert_eq!(left, right, "in order");
        let four = g.and(ab, cd);
        assert_eq!([g.and(left, d), g.and(d, left), g.and(bc, four)], [four; 3]);
        assert_eq!(g.and(only_a, bc), Term::FALSE, "a literal and its inverse");
        assert_eq!((g.xor(a, a), g.xor(a, !a)), (Term::FALSE, Term::TRUE));
        let unlike = g.xor(a, b);
        assert_eq!([g.xor(b, a), g.xor(!a, !b), !g.xor(a, !b)], [unlike; 3]);
        let either = g.or(a, b);
        assert_eq!([g.choose(a, a, b), g.choose(a, Term::TRUE, b), g.choose(!a, b, a)], [either; 3]);
        // in each way of a choice its condition is known, however deep it stands
        let deep = g.and(unlike, c);
        let (then, otherwise) = (g.and(!b, c), g.and(b, c));
        assert_eq!(g.choose(a, deep, deep), deep);
        let (plain, known) = (g.choose(a, then, otherwise), g.choose(a, deep, otherwise));
        assert_eq!(plain, known);
        // and where the condition is a conjunction, each of its terms is
        let (plain, known) = (g.choose(ab, c, d), g.choose(ab, bc, d));
        assert_eq!(plain, known);
        let before = g.len();
        for _ in 0..2 {
            assert_eq!(g.and(cd, ab), four);
        }
        assert_eq!(g.len(), before, "what is there is found again");
    }

    proptest! {
        /// Folding never changes a value: every operation against plain Boolean arithmetic on all assignments.
        #[test]
        fn folding_keeps_values(script in prop::collection::vec((0u8..5, any::<u8>(), any::<u8>(), any::<u8>()), 1..60)) {
            let mut g = Terms::new();
            let variables: Vec<_> = (0..5).map(|_| g.variable()).collect();
            let table = |i: usize| (0u32..32).fold(0u32, |t, m| t | (((m >> i) & 1) << m));
            let mut pool: Vec<(Term, u32)> = variables.iter().enumerate().map(|(i, &v)| (v, table(i))).collect();
            pool.push((Term::TRUE, u32::MAX));
            for (op, i, j, k) in script {
                let pick = |n: u8| {
                    let (t, v) = pool[usize::from(n >> 1) % pool.len()];
                    if n & 1 == 1 { (!t, !v) } else { (t, v) }
                };
                let ((a, x), (b, y), (c, z)) = (pick(i), pick(j), pick(k));
                pool.push(match op {
                    0 => (g.and(a, b), x & y),
                    1 => (g.or(a, b), x | y),
                    2 => (g.xor(a, b), x ^ y),
                    3 => (g.choose(a, b, c), (x & y) | (!x & z)),
                    _ => (g.equal(a, b), !(x ^ y)),
                });
            }
            for m in 0u32..32 {
                let assignment = Assignment::new(&g, |v| (m >> v) & 1 == 1);
                for &(t, v) in &pool {
                    prop_assert_eq!(assignment.value(t), (v >> m) & 1 == 1);
                    let alone = Assignment::of(&g, [t], |v| (m >> v) & 1 == 1);
                    prop_assert_eq!(alone.value(t), (v >> m) & 1 == 1);
                }
            }
        }
    }
}
