//! What the machine's step is generic over: values with and, or, not, choose, and a way to meet the unknown.
use std::collections::BTreeMap;

use crate::terms::{Table, Term, Terms};

use super::Unknown;

/// Values that a circuit can be run on.
pub trait Algebra {
    /// A value: one bit, 64 bits side by side, a term.
    type Value: Copy + PartialEq + std::fmt::Debug;

    /// The value that is the same everywhere.
    fn constant(&mut self, high: bool) -> Self::Value;
    /// Not.
    fn not(&mut self, a: Self::Value) -> Self::Value;
    /// And.
    fn and(&mut self, a: Self::Value, b: Self::Value) -> Self::Value;
    /// Or.
    fn or(&mut self, a: Self::Value, b: Self::Value) -> Self::Value;
    /// Exclusive or.
    fn xor(&mut self, a: Self::Value, b: Self::Value) -> Self::Value;
    /// `then` where `when`, `otherwise` elsewhere.
    fn choose(&mut self, when: Self::Value, then: Self::Value, otherwise: Self::Value) -> Self::Value;

    /// The value where something unknown happens: anything where `when`, `usual` elsewhere.
    ///
    /// An algebra decides what *anything* is: `usual` as well, a free variable, a random bit.
    fn unknown(&mut self, site: Unknown, when: Self::Value, usual: Self::Value) -> Self::Value;
}

/// The operations of sixty-four runs side by side, one bit each; how they resolve unknowns is left to each of them.
macro_rules! sixty_four_runs {
    () => {
        type Value = u64;

        fn constant(&mut self, high: bool) -> u64 {
            if high { u64::MAX } else { 0 }
        }
        fn not(&mut self, a: u64) -> u64 {
            !a
        }
        fn and(&mut self, a: u64, b: u64) -> u64 {
            a & b
        }
        fn or(&mut self, a: u64, b: u64) -> u64 {
            a | b
        }
        fn xor(&mut self, a: u64, b: u64) -> u64 {
            a ^ b
        }
        fn choose(&mut self, when: u64, then: u64, otherwise: u64) -> u64 {
            (when & then) | (!when & otherwise)
        }
    };
}
pub(crate) use sixty_four_runs;

/// Sixty-four runs side by side, one bit each.
///
/// Unknowns take their usual value; the runs in which one occurred are kept in `met`.
#[derive(Clone, Debug, Default)]
pub struct Lanes {
    /// Every unknown that occurred, with the runs in which it did.
    pub met: Vec<(Unknown, u64)>,
}

impl Algebra for Lanes {
    sixty_four_runs!();

    fn unknown(&mut self, site: Unknown, when: u64, usual: u64) -> u64 {
        if when != 0 {
            self.met.push((site, when));
        }
        usual
    }
}

/// How a symbolic run resolves unknowns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Freedom {
    /// Every occurrence is a free variable of its own.
    Free,
    /// Every occurrence takes its usual value: one resolution among those that are allowed.
    Usual,
}

/// Terms over free variables.
#[derive(Debug)]
pub struct Symbolic<'t> {
    /// The graph that the terms live in.
    pub terms: &'t mut Terms,
    /// What unknowns become.
    pub freedom: Freedom,
    /// What some of them become instead: a resolution chosen as a function of everything else.
    pub chosen: BTreeMap<Unknown, Term>,
    /// How the unknowns that delays decide are resolved, if in another way.
    pub order: Option<Freedom>,
    /// Every unknown that can occur: where, when, and the variable that stands for it (false if it took its usual
    /// value).
    pub met: Vec<(Unknown, Term, Term)>,
    table: Table,
}

impl<'t> Symbolic<'t> {
    /// A symbolic algebra over a graph.
    pub fn new(terms: &'t mut Terms, freedom: Freedom) -> Self {
        Symbolic { terms, freedom, chosen: BTreeMap::new(), order: None, met: Vec::new(), table: Table::default() }
    }
}

impl Algebra for Symbolic<'_> {
    type Value = Term;

    fn constant(&mut self, high: bool) -> Term {
        Term::constant(high)
    }
    fn not(&mut self, a: Term) -> Term {
        !a
    }
    fn and(&mut self, a: Term, b: Term) -> Term {
        self.terms.and(a, b)
    }
    fn or(&mut self, a: Term, b: Term) -> Term {
        self.terms.or(a, b)
    }
    fn xor(&mut self, a: Term, b: Term) -> Term {
        self.terms.xor(a, b)
    }
    fn choose(&mut self, when: Term, then: Term, otherwise: Term) -> Term {
        self.terms.choose(when, then, otherwise)
    }
    fn unknown(&mut self, site: Unknown, when: Term, usual: Term) -> Term {
        // many loops only seem to race: a variable for them would make equal logic of the two sides look different
        if when == Term::FALSE || matches!(site, Unknown::Loop(_)) && self.table.is_never(self.terms, when) {
            return usual;
        }
        if let Some(&chosen) = self.chosen.get(&site) {
            self.met.push((site, when, Term::FALSE));
            return self.terms.choose(when, chosen, usual);
        }
        let freedom = match site {
            Unknown::Order(_) => self.order.unwrap_or(self.freedom),
            _ => self.freedom,
        };
        match freedom {
            Freedom::Usual => {
                self.met.push((site, when, Term::FALSE));
                usual
            }
            Freedom::Free => {
                let any = self.terms.variable();
                self.met.push((site, when, any));
                self.terms.choose(when, any, usual)
            }
        }
    }
}
