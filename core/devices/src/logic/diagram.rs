//! Ordered binary decision diagrams: one canonical handle for each function, so that equal functions are equal handles.
use gluewright_kernel::limit::Limit;
use std::collections::{BTreeSet, HashMap};

/// A function of signals, as a handle into [`Diagrams`]. Equal handles mean equal functions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Diagram(u32);

impl Diagram {
    /// Never true.
    pub const LOW: Diagram = Diagram(0);
    /// Always true.
    pub const HIGH: Diagram = Diagram(1);

    /// The constant of this value.
    pub const fn constant(high: bool) -> Diagram {
        if high { Diagram::HIGH } else { Diagram::LOW }
    }

    /// The value, if the function is a constant.
    pub fn as_constant(self) -> Option<bool> {
        match self {
            Diagram::LOW => Some(false),
            Diagram::HIGH => Some(true),
            _ => None,
        }
    }
}

/// A product term over variables: variable and the value that it must have, in rising order of variables.
pub type Product = Vec<(usize, bool)>;

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Node {
    variable: u32,
    low: Diagram,
    high: Diagram,
}

/// The table in which functions live.
///
/// A function that would need more than [`Diagrams::LIMIT`] nodes is not built: [`Diagrams::overflowed`] says so, and
/// results from then on mean nothing.
#[derive(Clone)]
pub struct Diagrams {
    nodes: Vec<Node>,
    unique: HashMap<Node, Diagram>,
    chosen: HashMap<(Diagram, Diagram, Diagram), Diagram>,
    overflowed: bool,
    /// When nothing smaller is looked for any more in what is made of them.
    limit: Limit,
}

impl std::fmt::Debug for Diagrams {
    /// The size of the table: its nodes say nothing to a person.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Diagrams { nodes, unique: _, chosen: _, overflowed, limit: _ } = self;
        f.debug_struct("Diagrams").field("nodes", &nodes.len()).field("overflowed", overflowed).finish_non_exhaustive()
    }
}

impl Default for Diagrams {
    fn default() -> Self {
        let end = |at| Node { variable: u32::MAX, low: at, high: at };
        Diagrams {
            nodes: vec![end(Diagram::LOW), end(Diagram::HIGH)],
            unique: HashMap::new(),
            chosen: HashMap::new(),
            overflowed: false,
            limit: Limit::default(),
        }
    }
}

impl Diagrams {
    /// The limit of everything that is made of them.
    pub(crate) fn limit(&self) -> Limit {
        self.limit
    }

    /// Puts a limit to everything that is made of them.
    pub(crate) fn limit_to(&mut self, limit: Limit) {
        self.limit = limit;
    }
}

impl Diagrams {
    /// The most nodes that a table holds, far beyond glue logic.
    pub const LIMIT: usize = 1 << 20;

    /// Whether some function was too large to build.
    pub fn overflowed(&self) -> bool {
        self.overflowed
    }

    /// The function that is true while this variable is.
    pub fn variable(&mut self, variable: usize) -> Diagram {
        self.node(variable as u32, Diagram::LOW, Diagram::HIGH)
    }

    /// The variable or its complement.
    pub fn literal(&mut self, variable: usize, value: bool) -> Diagram {
        self.node(variable as u32, Diagram::constant(!value), Diagram::constant(value))
    }

    /// `then` while `when`, `otherwise` while not.
    pub fn choose(&mut self, when: Diagram, then: Diagram, otherwise: Diagram) -> Diagram {
        match when {
            Diagram::HIGH => return then,
            Diagram::LOW => return otherwise,
            _ if then == otherwise => return then,
            _ if then == Diagram::HIGH && otherwise == Diagram::LOW => return when,
            _ => {}
        }
        if self.overflowed {
            return Diagram::LOW;
        }
        if let Some(&known) = self.chosen.get(&(when, then, otherwise)) {
            return known;
        }
        let variable = [when, then, otherwise].into_iter().map(|d| self.at(d).variable).min().unwrap_or(u32::MAX);
        let part = |d: Diagram, high: bool, of: &Self| {
            let node = of.at(d);
            if node.variable != variable {
                d
            } else if high {
                node.high
            } else {
                node.low
            }
        };
        let [l, h] = [false, true].map(|v| (part(when, v, self), part(then, v, self), part(otherwise, v, self)));
        let low = self.choose(l.0, l.1, l.2);
        let high = self.choose(h.0, h.1, h.2);
        let made = self.node(variable, low, high);
        self.chosen.insert((when, then, otherwise), made);
        made
    }

    /// Not.
    pub fn not(&mut self, a: Diagram) -> Diagram {
        self.choose(a, Diagram::LOW, Diagram::HIGH)
    }

    /// And.
    pub fn and(&mut self, a: Diagram, b: Diagram) -> Diagram {
        self.choose(a, b, Diagram::LOW)
    }

    /// Or.
    pub fn or(&mut self, a: Diagram, b: Diagram) -> Diagram {
        self.choose(a, Diagram::HIGH, b)
    }

    /// Exclusive or.
    pub fn xor(&mut self, a: Diagram, b: Diagram) -> Diagram {
        let not_b = self.not(b);
        self.choose(a, not_b, b)
    }

    /// The function with one variable held at a value.
    pub fn cofactor(&mut self, of: Diagram, variable: usize, value: bool) -> Diagram {
        let mut done = HashMap::new();
        self.cofactor_in(of, variable as u32, value, &mut done)
    }

    /// The function with a variable replaced by another function.
    pub fn compose(&mut self, of: Diagram, variable: usize, by: Diagram) -> Diagram {
        let high = self.cofactor(of, variable, true);
        let low = self.cofactor(of, variable, false);
        self.choose(by, high, low)
    }

    /// The variables that the function depends on, rising.
    pub fn support(&self, of: Diagram) -> Vec<usize> {
        let mut seen = BTreeSet::new();
        let mut variables = BTreeSet::new();
        let mut open = vec![of];
        while let Some(d) = open.pop() {
            if d.as_constant().is_none() && seen.insert(d) {
                let node = self.at(d);
                variables.insert(node.variable as usize);
                open.extend([node.low, node.high]);
            }
        }
        variables.into_iter().collect()
    }

    /// The value under an assignment.
    pub fn value(&self, of: Diagram, mut at: impl FnMut(usize) -> bool) -> bool {
        let mut d = of;
        while d.as_constant().is_none() {
            let node = self.at(d);
            d = if at(node.variable as usize) { node.high } else { node.low };
        }
        d == Diagram::HIGH
    }

    /// The variable and the value that makes it true, if the function is one variable or its complement.
    pub fn as_literal(&self, of: Diagram) -> Option<(usize, bool)> {
        let node = self.at(of);
        match (node.low, node.high) {
            (Diagram::LOW, Diagram::HIGH) => Some((node.variable as usize, true)),
            (Diagram::HIGH, Diagram::LOW) => Some((node.variable as usize, false)),
            _ => None,
        }
    }

    /// The product term, if the function is one.
    pub fn as_product(&self, of: Diagram) -> Option<Product> {
        let mut product = Product::new();
        let mut d = of;
        while d != Diagram::HIGH {
            let node = self.at(d);
            let (value, next) = match (node.low, node.high) {
                _ if d == Diagram::LOW => return None,
                (Diagram::LOW, next) => (true, next),
                (next, Diagram::LOW) => (false, next),
                _ => return None,
            };
            product.push((node.variable as usize, value));
            d = next;
        }
        Some(product)
    }

    /// The function of a product term.
    pub fn product(&mut self, literals: impl IntoIterator<Item = (usize, bool)>) -> Diagram {
        literals.into_iter().fold(Diagram::HIGH, |all, (variable, value)| {
            let one = self.literal(variable, value);
            self.and(all, one)
        })
    }

    /// Product terms whose sum lies between `at_least` and `at_most`, none of them needless. Not the fewest: a start
    /// for the cover.
    ///
    /// Source: S. Minato, "Fast generation of irredundant sum-of-products forms from binary decision diagrams", 1992
    /// (from memory).
    pub fn products(&mut self, at_least: Diagram, at_most: Diagram) -> Vec<Product> {
        let mut sums = HashMap::new();
        let terms = self.irredundant(at_least, at_most, &mut sums).0;
        terms
            .into_iter()
            .map(|mut t| {
                t.reverse();
                t
            })
            .collect()
    }

    /// Terms (deepest literal first) and their sum.
    fn irredundant(
        &mut self,
        at_least: Diagram,
        at_most: Diagram,
        done: &mut HashMap<(Diagram, Diagram), (Vec<Product>, Diagram)>,
    ) -> (Vec<Product>, Diagram) {
        if at_least == Diagram::LOW || self.overflowed {
            return (Vec::new(), Diagram::LOW);
        }
        if at_most == Diagram::HIGH {
            return (vec![Product::new()], Diagram::HIGH);
        }
        if let Some(known) = done.get(&(at_least, at_most)) {
            return known.clone();
        }
        let variable = self.at(at_least).variable.min(self.at(at_most).variable) as usize;
        let [l0, l1] = [false, true].map(|v| self.cofactor(at_least, variable, v));
        let [u0, u1] = [false, true].map(|v| self.cofactor(at_most, variable, v));
        let only = |of: Diagram, but: Diagram, me: &mut Self| {
            let outside = me.not(but);
            me.and(of, outside)
        };
        let need0 = only(l0, u1, self);
        let (terms0, sum0) = self.irredundant(need0, u0, done);
        let need1 = only(l1, u0, self);
        let (terms1, sum1) = self.irredundant(need1, u1, done);
        let left0 = only(l0, sum0, self);
        let left1 = only(l1, sum1, self);
        let (left, most) = (self.or(left0, left1), self.and(u0, u1));
        let (terms, sum) = self.irredundant(left, most, done);
        let mut all = terms;
        for (value, terms) in [(false, terms0), (true, terms1)] {
            all.extend(terms.into_iter().map(|mut t| {
                t.push((variable, value));
                t
            }));
        }
        let (low, high) = (self.or(sum0, sum), self.or(sum1, sum));
        let when = self.variable(variable);
        let sum = self.choose(when, high, low);
        done.insert((at_least, at_most), (all.clone(), sum));
        (all, sum)
    }

    fn cofactor_in(
        &mut self,
        of: Diagram,
        variable: u32,
        value: bool,
        done: &mut HashMap<Diagram, Diagram>,
    ) -> Diagram {
        let node = self.at(of);
        if node.variable > variable {
            return of;
        }
        if node.variable == variable {
            return if value { node.high } else { node.low };
        }
        if let Some(&known) = done.get(&of) {
            return known;
        }
        let low = self.cofactor_in(node.low, variable, value, done);
        let high = self.cofactor_in(node.high, variable, value, done);
        let made = self.node(node.variable, low, high);
        done.insert(of, made);
        made
    }

    fn at(&self, d: Diagram) -> Node {
        let end = Node { variable: u32::MAX, low: Diagram::LOW, high: Diagram::LOW };
        self.nodes.get(d.0 as usize).copied().unwrap_or(end)
    }

    fn node(&mut self, variable: u32, low: Diagram, high: Diagram) -> Diagram {
        if low == high {
            return low;
        }
        let node = Node { variable, low, high };
        if let Some(&known) = self.unique.get(&node) {
            return known;
        }
        if self.nodes.len() >= Self::LIMIT {
            self.overflowed = true;
            return Diagram::LOW;
        }
        let made = Diagram(self.nodes.len() as u32);
        self.nodes.push(node);
        self.unique.insert(node, made);
        made
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_same_function_is_the_same_handle() {
        let mut d = Diagrams::default();
        let [a, b, c] = [0, 1, 2].map(|v| d.variable(v));
        let (ab, ac, bc) = (d.and(a, b), d.and(a, c), d.or(b, c));
        assert_eq!(d.or(ab, ac), d.and(a, bc));
        assert_eq!(d.xor(a, a), Diagram::LOW);
        assert_eq!(d.support(ab), [0, 1]);
    }

    #[test]
    fn a_product_is_told_from_a_sum() {
        let mut d = Diagrams::default();
        let term = d.product([(1, true), (3, false)]);
        assert_eq!(d.as_product(term), Some(vec![(1, true), (3, false)]));
        let other = d.variable(2);
        let sum = d.or(term, other);
        assert_eq!(d.as_product(sum), None);
        assert_eq!(d.as_product(Diagram::LOW), None);
        assert_eq!(d.as_product(Diagram::HIGH), Some(vec![]));
    }

    #[test]
    fn too_large_is_said_and_not_built() {
        // a0 b0 + a1 b1 + ... with all a before all b needs about 2^n nodes
        let mut d = Diagrams::default();
        let mut sum = Diagram::LOW;
        for i in 0..24 {
            let term = d.product([(i, true), (24 + i, true)]);
            sum = d.or(sum, term);
            if d.overflowed() {
                break;
            }
        }
        assert!(d.overflowed());
    }

    proptest! {
        #[test]
        fn products_lie_between_the_bounds(on in any::<u32>(), more in any::<u32>()) {
            let mut d = Diagrams::default();
            let build = |d: &mut Diagrams, table: u32| (0..32).filter(|i| table >> i & 1 == 1).fold(Diagram::LOW, |sum, i| {
                let term = d.product((0..5).map(|v| (v, i >> v & 1 == 1)));
                d.or(sum, term)
            });
            let (least, most) = (build(&mut d, on), build(&mut d, on | more));
            let terms = d.products(least, most);
            for i in 0..32u32 {
                let sum = terms.iter().any(|t| t.iter().all(|&(v, value)| (i >> v & 1 == 1) == value));
                prop_assert!(on >> i & 1 == 0 || sum);
                prop_assert!(!sum || (on | more) >> i & 1 == 1);
            }
        }
    }
}
