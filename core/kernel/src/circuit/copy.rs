//! Copying expressions and what is made of them from one circuit into another.
use super::{Circuit, Driver, Element, Expr, Kind, Op};

impl Circuit {
    /// Copies the expressions of `from` whose index is wanted, operands before what uses them, and returns where each
    /// went. `leaf` says what stands for a net or a register here; what is not wanted reads as low.
    pub(super) fn copy_expressions(
        &mut self,
        from: &Circuit,
        wanted: impl Fn(usize) -> bool,
        leaf: impl Fn(&mut Circuit, Op) -> Expr,
    ) -> Copied {
        let mut map: Vec<Expr> = Vec::with_capacity(from.ops.len());
        for (i, &op) in from.ops.iter().enumerate() {
            let at = |e: Expr| map.get(e.index()).copied().unwrap_or(Expr::LOW);
            let here = match op {
                _ if !wanted(i) => Expr::LOW,
                Op::Constant(value) => Expr::constant(value),
                Op::Net(_) | Op::Q(_) | Op::QInverted(_) => leaf(self, op),
                Op::Not(a) => self.not(at(a)),
                Op::And(a, b) => self.and(at(a), at(b)),
                Op::Or(a, b) => self.or(at(a), at(b)),
                Op::Xor(a, b) => self.xor(at(a), at(b)),
                Op::Choose(c, a, b) => self.choose(at(c), at(a), at(b)),
            };
            map.push(here);
        }
        Copied(map)
    }
}

/// Where each expression of another circuit went.
pub(super) struct Copied(Vec<Expr>);

impl Copied {
    pub(super) fn at(&self, e: Expr) -> Expr {
        self.0.get(e.index()).copied().unwrap_or(Expr::LOW)
    }
}

impl Element {
    /// The same over other expressions.
    pub(super) fn over(&self, at: impl Fn(Expr) -> Expr) -> Element {
        let kind = match self.kind {
            Kind::Register { clock, data } => Kind::Register { clock: at(clock), data: at(data) },
            Kind::Latch { open, data } => Kind::Latch { open: at(open), data: at(data) },
        };
        Element { kind, clear: at(self.clear), preset: at(self.preset), ..self.clone() }
    }
}

impl Driver {
    /// The same over other expressions.
    pub(super) fn over(&self, at: impl Fn(Expr) -> Expr) -> Driver {
        Driver { enable: at(self.enable), level: at(self.level), ..self.clone() }
    }
}
