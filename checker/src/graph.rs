//! Boolean functions as a graph of conjunctions and inversions, shared where they are equal.
use std::collections::{BTreeSet, HashMap};

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

/// The graph; its first node is the constant.
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
    fn add(&mut self, node: Node) -> Lit {
        self.nodes.push(node);
        Lit((self.nodes.len() as u32 - 1) << 1)
    }

    /// A new free variable.
    pub fn free(&mut self) -> Lit {
        self.add(Node::Free)
    }

    /// What stands at a node.
    pub fn node(&self, index: usize) -> Node {
        self.nodes.get(index).copied().unwrap_or(Node::False)
    }

    /// How many nodes there are.
    pub fn size(&self) -> usize {
        self.nodes.len()
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
            let Node::And(p, q) = self.node(x.node()) else { continue };
            match x.is_inverted() {
                false if p == y || q == y => return x,
                false if p == !y || q == !y => return Lit::FALSE,
                true if p == !y || q == !y => return y,
                true if p == y => return self.and(y, !q),
                true if q == y => return self.and(y, !p),
                _ => {}
            }
        }
        if let Some(&known) = self.known.get(&(a, b)) {
            return known;
        }
        let new = self.add(Node::And(a, b));
        self.known.insert((a, b), new);
        new
    }

    /// At least one.
    pub fn or(&mut self, a: Lit, b: Lit) -> Lit {
        !self.and(!a, !b)
    }

    /// Exactly one.
    pub fn xor(&mut self, a: Lit, b: Lit) -> Lit {
        self.mux(a, !b, b)
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

    /// Whether any of these pairs differs.
    pub fn differ<'l>(&mut self, a: impl IntoIterator<Item = &'l Lit>, b: impl IntoIterator<Item = &'l Lit>) -> Lit {
        a.into_iter().zip(b).fold(Lit::FALSE, |any, (&x, &y)| {
            let differs = self.xor(x, y);
            self.or(any, differs)
        })
    }

    /// True where these bits are these values.
    pub fn are(&mut self, bits: &[Lit], values: &[bool]) -> Lit {
        self.all(bits.iter().zip(values).map(|(&bit, &value)| bit.flip(!value)))
    }

    /// All nodes on which these hang.
    pub fn below(&self, of: impl IntoIterator<Item = Lit>) -> BTreeSet<usize> {
        reach(of.into_iter().map(Lit::node), |n| match self.node(n) {
            Node::And(a, b) => vec![a.node(), b.node()],
            Node::False | Node::Free => Vec::new(),
        })
    }

    /// The value of every node when free variables have these values.
    pub fn values(&self, free: impl Fn(usize) -> bool) -> Vec<bool> {
        let mut values = Vec::with_capacity(self.nodes.len());
        for (i, node) in self.nodes.iter().enumerate() {
            values.push(match *node {
                Node::False => false,
                Node::Free => free(i),
                Node::And(a, b) => value(&values, a) && value(&values, b),
            });
        }
        values
    }
}

/// All that is reached from these.
pub fn reach<T: Copy + Ord>(from: impl IntoIterator<Item = T>, next: impl Fn(T) -> Vec<T>) -> BTreeSet<T> {
    let (mut stack, mut seen): (Vec<T>, _) = (from.into_iter().collect(), BTreeSet::new());
    while let Some(one) = stack.pop() {
        if seen.insert(one) {
            stack.extend(next(one));
        }
    }
    seen
}

/// The value of a function, given those of all nodes.
pub fn value(values: &[bool], of: Lit) -> bool {
    values.get(of.node()).copied().unwrap_or(false) ^ of.is_inverted()
}

/// A level of which it is said whether it can be high, and whether it can be low.
pub type Rails = (Lit, Lit);

/// A level that can be both.
pub const OPEN: Rails = (Lit::TRUE, Lit::TRUE);

/// The rails of a level that is one or the other.
pub fn sure(level: impl Into<Lit>) -> Rails {
    let level = level.into();
    (level, !level)
}

/// The level, if it is the same whatever else is.
pub fn known(rails: Rails) -> Option<bool> {
    if rails == sure(true) || rails == sure(false) { Some(rails.0 == Lit::TRUE) } else { None }
}

impl Graph {
    /// All of them.
    pub fn every(&mut self, of: impl IntoIterator<Item = Rails>) -> Rails {
        of.into_iter().fold(sure(true), |a, b| (self.and(a.0, b.0), self.or(a.1, b.1)))
    }

    /// Any of them.
    pub fn some(&mut self, of: impl IntoIterator<Item = Rails>) -> Rails {
        of.into_iter().fold(sure(false), |a, b| (self.or(a.0, b.0), self.and(a.1, b.1)))
    }

    /// The second while the first, else the third.
    pub fn choose(&mut self, when: Rails, then: Rails, otherwise: Rails) -> Rails {
        if [when, then, otherwise].iter().all(|r| r.1 == !r.0) {
            return sure(self.mux(when.0, then.0, otherwise.0));
        }
        let high = [self.and(when.0, then.0), self.and(when.1, otherwise.0)];
        let low = [self.and(when.0, then.1), self.and(when.1, otherwise.1)];
        (self.any(high), self.any(low))
    }
}
