//! Boolean expressions of a circuit: shared, immutable, folded where they are built.
use super::{ElementId, NetId};

/// A handle to an expression of one [`Circuit`](super::Circuit). Equal handles mean equal expressions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Expr(pub(crate) u32);

impl Expr {
    /// The handle of what stands at this position. A circuit that has fewer expressions has nothing there.
    pub fn at(index: usize) -> Self {
        Expr(u32::try_from(index).unwrap_or(u32::MAX))
    }

    /// Always low, never true.
    pub const LOW: Expr = Expr(0);
    /// Always high, always true.
    pub const HIGH: Expr = Expr(1);

    /// The constant of this value.
    pub const fn constant(high: bool) -> Expr {
        if high { Expr::HIGH } else { Expr::LOW }
    }

    /// The value, if it is a constant.
    pub fn as_constant(self) -> Option<bool> {
        match self {
            Expr::LOW => Some(false),
            Expr::HIGH => Some(true),
            _ => None,
        }
    }

    /// Position in the circuit's table of expressions.
    pub fn index(self) -> usize {
        self.0 as usize
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
