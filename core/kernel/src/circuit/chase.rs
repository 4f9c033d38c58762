//! What may chase itself: nets, latches and registers that act on themselves with nobody outside moving.
use super::{Circuit, Expr, Kind, Op};

/// What the way back to itself may lead through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Through {
    /// Gates alone.
    Gates,
    /// Latches too, and the clocks, clears and presets of registers: all that acts without anybody outside.
    Elements,
}

/// What may chase itself, by index: never false of what does.
pub(crate) struct Chasing {
    pub(crate) nets: Vec<bool>,
    pub(crate) elements: Vec<bool>,
}

impl Circuit {
    /// Which nets, registers and latches may act on themselves.
    pub(crate) fn chasing(&self, through: Through) -> Chasing {
        let (nets, elements) = (self.nets.len(), self.elements.len());
        let of = |all: &[Expr]| all.iter().map(|e| nets + elements + e.index()).collect::<Vec<usize>>();
        // nets first, then elements, then expressions: what each acts on at once
        let mut made_of: Vec<Vec<usize>> = Vec::with_capacity(nets + elements + self.ops.len());
        for net in &self.nets {
            made_of.push(of(&net.drivers.iter().flat_map(|d| [d.enable, d.level]).collect::<Vec<_>>()));
        }
        for e in &self.elements {
            made_of.push(match (through, e.kind) {
                (Through::Gates, _) => Vec::new(),
                // what it loads waits for the clock
                (Through::Elements, Kind::Register { clock, .. }) => of(&[clock, e.clear, e.preset]),
                (Through::Elements, Kind::Latch { open, data }) => of(&[open, data, e.clear, e.preset]),
            });
        }
        for &op in &self.ops {
            made_of.push(match op {
                Op::Constant(_) => Vec::new(),
                Op::Net(n) => vec![n.index()],
                Op::Q(e) | Op::QInverted(e) => vec![nets + e.index()],
                Op::Not(a) => of(&[a]),
                Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => of(&[a, b]),
                Op::Choose(when, a, b) => of(&[when, a, b]),
            });
        }
        let mut left = in_loops(&mut made_of);
        left.truncate(nets + elements);
        let elements = left.split_off(nets);
        Chasing { nets: left, elements }
    }
}

/// Which nodes stand in a loop, or between two: the others end nowhere or begin nowhere, or lead only to such.
fn in_loops(made_of: &mut [Vec<usize>]) -> Vec<bool> {
    let count = made_of.len();
    made_of.iter_mut().for_each(|all| all.retain(|&n| n < count));
    let mut used_by = vec![Vec::new(); count];
    for (n, all) in made_of.iter().enumerate() {
        all.iter().for_each(|&of| used_by[of].push(n));
    }
    let mut left = vec![true; count];
    for (from, to) in [(&*made_of, &*used_by), (&*used_by, &*made_of)] {
        let mut open: Vec<usize> = from.iter().map(|all| all.iter().filter(|&&n| left[n]).count()).collect();
        let mut done: Vec<usize> = (0..count).filter(|&n| left[n] && open[n] == 0).collect();
        while let Some(n) = done.pop() {
            left[n] = false;
            for &m in &to[n] {
                open[m] = open[m].saturating_sub(1);
                if open[m] == 0 && left[m] {
                    done.push(m);
                }
            }
        }
    }
    left
}
