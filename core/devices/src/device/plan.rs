//! What a fit decided for one device and what its fuse map holds: product terms, polarity and enables by pin.
use std::collections::BTreeMap;

use super::{Function, PinNumber, Source};

/// One signal or its complement in a product term.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Literal {
    /// The signal on the pair of columns.
    pub source: Source,
    /// The odd column of the pair: the literal is true while the signal is low.
    pub complement: bool,
}

impl Literal {
    /// True while the signal is high.
    pub fn high(source: Source) -> Self {
        Literal { source, complement: false }
    }

    /// True while the signal is low.
    pub fn low(source: Source) -> Self {
        Literal { source, complement: true }
    }
}

impl std::fmt::Display for Literal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let not = if self.complement { "¬" } else { "" };
        match self.source {
            Source::Pin(n) => write!(f, "{not}pin {n}"),
            Source::Feedback(n) => write!(f, "{not}feedback {n}"),
        }
    }
}

/// A product term: true while all its literals are. Without a literal it is always true.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Term(pub Vec<Literal>);

impl Term {
    /// The term that is always true.
    pub fn always() -> Self {
        Term(Vec::new())
    }

    /// Whether it holds a signal and its complement, so that it is never true.
    pub fn is_contradiction(&self) -> bool {
        self.0.iter().any(|l| self.0.contains(&Literal { complement: !l.complement, ..*l }))
    }
}

impl FromIterator<Literal> for Term {
    fn from_iter<I: IntoIterator<Item = Literal>>(literals: I) -> Self {
        Term(literals.into_iter().collect())
    }
}

/// When a macrocell drives its pin.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Enable {
    /// At all times.
    Always,
    /// At no time.
    Never,
    /// While this term is true.
    While(Term),
    /// While the device's enable pin is low.
    Pin,
}

/// One macrocell of a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// What it does.
    pub function: Function,
    /// Whether the pin shows the complement of the sum of the terms: at once, or after the clock edge if registered.
    /// What the register then holds follows from [`Device::inverter`](super::Device::inverter).
    pub inverted: bool,
    /// When the pin is driven.
    pub enable: Enable,
    /// The product terms whose sum it takes, in row order. None: the sum is never true.
    pub terms: Vec<Term>,
    /// The product terms of a second sum, in row order: the macrocell takes the exclusive-or of the two. None: it takes the
    /// first alone.
    pub exclusive: Vec<Term>,
}

/// What one device is to do. Macrocells that aren't listed are left undriven where the device can do that, so their
/// pins can serve as inputs.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Plan {
    /// Index of the mode in [`Device::modes`](super::Device::modes).
    pub mode: usize,
    /// The macrocells in use, by pin.
    pub cells: BTreeMap<PinNumber, Cell>,
    /// Resets all registers at once while true. `None`: never.
    pub reset: Option<Term>,
    /// Sets all registers on the next clock edge while true. `None`: never.
    pub preset: Option<Term>,
    /// The user signature, in fuse order; shorter than the device's is padded with zeros.
    pub signature: Vec<u8>,
}
