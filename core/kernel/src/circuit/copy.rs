//! Copying expressions from one circuit into another.
use super::{Circuit, Expr, Op};

impl Circuit {
    /// Copies expressions of `from`, each of which stands after its operands in `order`, and returns where each went.
    /// `leaf` says what stands here for a net or for what an element holds; it sees what was copied before.
    pub fn copy(
        &mut self,
        from: &Circuit,
        order: impl IntoIterator<Item = Expr>,
        mut leaf: impl FnMut(&mut Circuit, &Copied, Op) -> Expr,
    ) -> Copied {
        let mut copied = Copied(vec![Expr::LOW; from.expression_count()]);
        for e in order {
            let here = match from.op(e) {
                op @ (Op::Net(_) | Op::Q(_) | Op::QInverted(_)) => leaf(self, &copied, op),
                op => self.expression(op.map(|operand| copied.at(operand))),
            };
            if let Some(place) = copied.0.get_mut(e.index()) {
                *place = here;
            }
        }
        copied
    }
}

/// Where each expression of another circuit went.
#[derive(Clone, Debug)]
pub struct Copied(Vec<Expr>);

impl Copied {
    /// Where this expression went; what was not copied reads as low.
    pub fn at(&self, e: Expr) -> Expr {
        self.0.get(e.index()).copied().unwrap_or(Expr::LOW)
    }
}
