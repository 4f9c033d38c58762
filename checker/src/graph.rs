//! Boolean functions as a graph of conjunctions and inversions, shared where they are equal.
use std::collections::HashMap;

/// A function: a node of the graph, inverted or not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Lit(u32);

impl Lit {
    /// Never true.
    pub const FALSE: Lit = Lit(0);
    /// Always true.
    pub const TRUE: Lit = Lit(1);

    /// The node behind it.
    pub fn node(self) -> usize {
        (self.0 >> 1) as usize
    }

    /// Whether it is the node's inverse.
    pub fn is_inverted(self) -> bool {
        self.0 & 1 == 1
    }

    /// Inverted if asked.
    #[must_use]
    pub fn flip(self, invert: bool) -> Lit {
        Lit(self.0 ^ u32::from(invert))
    }
}

impl std::ops::Not for Lit {
    type Output = Lit;
    fn not(self) -> Lit {
        self.flip(true)
    }
}

impl From<bool> for Lit {
    fn from(value: bool) -> Lit {
        Lit::FALSE.flip(value)
    }
}

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Node {
    /// The constant false.
    False,
    /// A free variable.
    Free,
    /// Both are true.
    And(Lit, Lit),
}

/// The graph.
#[derive(Clone, Debug)]
pub struct Graph {
    nodes: Vec<Node>,
    known: HashMap<(Lit, Lit), Lit>,
}

impl Default for Graph {
    fn default() -> Self {
        Graph { nodes: vec![Node::False], known: HashMap::new() }
    }
}

impl Graph {
    /// A new free variable.
    pub fn free(&mut self) -> Lit {
        self.nodes.push(Node::Free);
        Lit((self.nodes.len() as u32 - 1) << 1)
    }

    /// What stands at a node.
    pub fn node(&self, index: usize) -> Node {
        self.nodes.get(index).copied().unwrap_or(Node::False)
    }

    /// How many nodes there are.
    pub fn size(&self) -> usize {
        self.nodes.len()
    }

    fn parts(&self, x: Lit) -> Option<(Lit, Lit)> {
        match self.node(x.node()) {
            Node::And(a, b) => Some((a, b)),
            Node::False | Node::Free => None,
        }
    }

    /// Both.
    pub fn and(&mut self, a: Lit, b: Lit) -> Lit {
        let (a, b) = if a < b { (a, b) } else { (b, a) };
        if a == Lit::FALSE || a == !b {
            return Lit::FALSE;
        }
        if a == Lit::TRUE || a == b {
            return b;
        }
        for (x, y) in [(a, b), (b, a)] {
            let Some((p, q)) = self.parts(x) else { continue };
            match (x.is_inverted(), p, q) {
                (false, p, q) if p == y || q == y => return x,
                (false, p, q) if p == !y || q == !y => return Lit::FALSE,
                (true, p, q) if p == !y || q == !y => return y,
                (true, p, q) if p == y => return self.and(y, !q),
                (true, p, q) if q == y => return self.and(y, !p),
                _ => {}
            }
        }
        if let Some(&known) = self.known.get(&(a, b)) {
            return known;
        }
        self.nodes.push(Node::And(a, b));
        let new = Lit((self.nodes.len() as u32 - 1) << 1);
        self.known.insert((a, b), new);
        new
    }

    /// At least one.
    pub fn or(&mut self, a: Lit, b: Lit) -> Lit {
        !self.and(!a, !b)
    }

    /// Exactly one.
    pub fn xor(&mut self, a: Lit, b: Lit) -> Lit {
        let (one, other) = (self.and(a, !b), self.and(!a, b));
        self.or(one, other)
    }

    /// The first while `when`, else the second.
    pub fn mux(&mut self, when: Lit, then: Lit, otherwise: Lit) -> Lit {
        if then == otherwise {
            return then;
        }
        let (one, other) = (self.and(when, then), self.and(!when, otherwise));
        self.or(one, other)
    }

    /// All of them.
    pub fn all(&mut self, of: impl IntoIterator<Item = Lit>) -> Lit {
        of.into_iter().fold(Lit::TRUE, |x, y| self.and(x, y))
    }

    /// Any of them.
    pub fn any(&mut self, of: impl IntoIterator<Item = Lit>) -> Lit {
        of.into_iter().fold(Lit::FALSE, |x, y| self.or(x, y))
    }

    /// The value of every node when free variables have these values.
    pub fn values(&self, free: impl Fn(usize) -> bool) -> Vec<bool> {
        let mut values = Vec::with_capacity(self.nodes.len());
        for (i, node) in self.nodes.iter().enumerate() {
            let at = |x: Lit, values: &[bool]| values.get(x.node()).copied().unwrap_or(false) ^ x.is_inverted();
            let value = match *node {
                Node::False => false,
                Node::Free => free(i),
                Node::And(a, b) => at(a, &values) && at(b, &values),
            };
            values.push(value);
        }
        values
    }
}

/// The value of a function, given those of all nodes.
pub fn value(values: &[bool], of: Lit) -> bool {
    values.get(of.node()).copied().unwrap_or(false) ^ of.is_inverted()
}
