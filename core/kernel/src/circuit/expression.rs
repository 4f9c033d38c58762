//! Boolean expressions of a circuit: shared, immutable, folded where they are built.
use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};

use super::{ElementId, NetId};

/// A handle to an expression of one [`Circuit`](super::Circuit). Equal handles of one circuit mean equal expressions.
///
/// A handle remembers what it was made for, so that a circuit tells those of another: it takes them for low, and
/// [`Circuit::check`](super::Circuit::check) refuses it from then on. A copy of a circuit takes what was made before it
/// was copied.
#[derive(Clone, Copy)]
pub struct Expr {
    index: u32,
    /// What the circuit gave it for this position; nothing for one that was made from its position alone.
    mark: u32,
}

impl fmt::Debug for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Expr").field(&self.index).finish()
    }
}

impl PartialEq for Expr {
    fn eq(&self, other: &Self) -> bool {
        self.index == other.index
    }
}

impl Eq for Expr {}

impl Hash for Expr {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.index.hash(state);
    }
}

impl Ord for Expr {
    fn cmp(&self, other: &Self) -> Ordering {
        self.index.cmp(&other.index)
    }
}

impl PartialOrd for Expr {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Expr {
    /// The handle of what stands at this position. A circuit that has fewer expressions has nothing there.
    pub fn at(index: usize) -> Self {
        Expr { index: u32::try_from(index).unwrap_or(u32::MAX), mark: 0 }
    }

    /// The same with what the circuit gave it.
    pub(super) fn marked(index: u32, mark: u32) -> Self {
        Expr { index, mark }
    }

    /// What the circuit gave it; zero if it was made from its position.
    pub(super) fn mark(self) -> u32 {
        self.mark
    }

    /// Always low, never true.
    pub const LOW: Expr = Expr { index: 0, mark: 0 };
    /// Always high, always true.
    pub const HIGH: Expr = Expr { index: 1, mark: 0 };

    /// The constant of this value.
    pub const fn constant(high: bool) -> Expr {
        if high { Expr::HIGH } else { Expr::LOW }
    }

    /// The value, if it is a constant.
    pub fn as_constant(self) -> Option<bool> {
        match self.index {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }

    /// Position in the circuit's table of expressions.
    pub fn index(self) -> usize {
        self.index as usize
    }
}

/// What an expression is made of. A level is high when its expression is true.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Op {
    /// A fixed level.
    Constant(bool),
    /// The level of a net, as everybody on it reads it.
    Net(NetId),
    /// What a register or latch holds.
    Q(ElementId),
    /// The complementary output of a register or latch: not Q, except that both are high while clear and preset are
    /// both asserted.
    QInverted(ElementId),
    /// True while the operand is not.
    Not(Expr),
    /// True while both are.
    And(Expr, Expr),
    /// True while at least one is.
    Or(Expr, Expr),
    /// True while the two differ.
    Xor(Expr, Expr),
    /// The second while the first is true, the third while it is not. Changes of the first between two equal values
    /// don't show (a multiplexer without a hazard).
    Choose(Expr, Expr, Expr),
}

/// How the level of an expression goes with that of an operand while all other operands stand still.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unateness {
    /// With it (positive unate).
    Same,
    /// Against it (negative unate).
    Opposite,
    /// Either way, as the others stand (binate).
    Either,
}

impl Unateness {
    /// Of an inversion of it.
    pub fn inverted(self) -> Unateness {
        match self {
            Unateness::Same => Unateness::Opposite,
            Unateness::Opposite => Unateness::Same,
            Unateness::Either => Unateness::Either,
        }
    }

    /// Of the level behind one that goes this way with it.
    pub fn then(self, behind: Unateness) -> Unateness {
        match behind {
            Unateness::Same => self,
            Unateness::Opposite => self.inverted(),
            Unateness::Either => Unateness::Either,
        }
    }
}

impl Op {
    /// The operands in their order; each stands before the expression itself in the circuit's table.
    pub fn operands(self) -> impl DoubleEndedIterator<Item = Expr> + Clone {
        let all = match self {
            Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => [None; 3],
            Op::Not(a) => [Some(a), None, None],
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => [Some(a), Some(b), None],
            Op::Choose(when, a, b) => [Some(when), Some(a), Some(b)],
        };
        all.into_iter().flatten()
    }

    /// The same operation over other operands. A constant, a net and what an element holds stay as they are.
    pub fn map(self, mut to: impl FnMut(Expr) -> Expr) -> Op {
        match self {
            Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => self,
            Op::Not(a) => Op::Not(to(a)),
            Op::And(a, b) => Op::And(to(a), to(b)),
            Op::Or(a, b) => Op::Or(to(a), to(b)),
            Op::Xor(a, b) => Op::Xor(to(a), to(b)),
            Op::Choose(when, a, b) => Op::Choose(to(when), to(a), to(b)),
        }
    }

    /// Whether its operands may be exchanged.
    pub fn commutes(self) -> bool {
        match self {
            Op::And(..) | Op::Or(..) | Op::Xor(..) => true,
            Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) | Op::Not(_) | Op::Choose(..) => false,
        }
    }

    /// How the level goes with each operand, in the order of [`Op::operands`].
    pub fn unateness(self) -> impl Iterator<Item = Unateness> + Clone {
        use Unateness::{Either, Opposite, Same};
        let all = match self {
            Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => [Same; 3],
            Op::Not(_) => [Opposite; 3],
            Op::And(..) | Op::Or(..) => [Same; 3],
            Op::Xor(..) => [Either; 3],
            Op::Choose(..) => [Either, Same, Same],
        };
        all.into_iter().take(self.operands().count())
    }

    /// The net that is read here, if nothing more is.
    pub fn as_net(self) -> Option<NetId> {
        match self {
            Op::Net(net) => Some(net),
            Op::Constant(_) | Op::Q(_) | Op::QInverted(_) => None,
            Op::Not(_) | Op::And(..) | Op::Or(..) | Op::Xor(..) | Op::Choose(..) => None,
        }
    }
}
