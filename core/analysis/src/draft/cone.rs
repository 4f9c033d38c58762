//! Truth tables of a package's outputs over the signals that enter it.
use std::collections::HashMap;

use gluewright_kernel::circuit::{By, Circuit, ElementId, Expr, Op};

use super::fields::is_always;

/// The truth table of a function: one place for each assignment of its variables, the first variable in the lowest bit.
#[derive(Clone)]
pub(super) struct Table(Vec<u64>);

/// For each of the lowest variables the places in a word at which it is low.
const LOW: [u64; 6] = [
    0x5555_5555_5555_5555,
    0x3333_3333_3333_3333,
    0x0F0F_0F0F_0F0F_0F0F,
    0x00FF_00FF_00FF_00FF,
    0x0000_FFFF_0000_FFFF,
    0x0000_0000_FFFF_FFFF,
];

impl Table {
    fn constant(variables: usize, level: bool) -> Self {
        Table(vec![if level { u64::MAX } else { 0 }; (1 << variables).max(64) / 64])
    }

    fn variable(variables: usize, v: usize) -> Self {
        let mut table = Table::constant(variables, false);
        for (place, word) in table.0.iter_mut().enumerate() {
            *word = match LOW.get(v) {
                Some(low) => !low,
                None => {
                    if place >> (v - LOW.len()) & 1 == 1 {
                        u64::MAX
                    } else {
                        0
                    }
                }
            };
        }
        table
    }

    /// Whether the function depends on a variable.
    pub(super) fn depends(&self, v: usize) -> bool {
        match LOW.get(v) {
            Some(low) => self.0.iter().any(|w| (w ^ w >> (1 << v)) & low != 0),
            None => {
                self.0.iter().enumerate().any(|(i, w)| self.0.get(i | 1 << (v - LOW.len())).is_some_and(|o| o != w))
            }
        }
    }

    /// The function with a variable fixed.
    pub(super) fn fixed(&self, v: usize, level: bool) -> Self {
        let words = self.0.iter().enumerate().map(|(i, w)| match LOW.get(v) {
            Some(low) if level => (w & !low) | (w & !low) >> (1 << v),
            Some(low) => (w & low) | (w & low) << (1 << v),
            None => {
                let bit = 1 << (v - LOW.len());
                self.0.get(if level { i | bit } else { i & !bit }).copied().unwrap_or(*w)
            }
        });
        Table(words.collect())
    }

    fn with(&self, other: &Table, of: impl Fn(u64, u64) -> u64) -> Self {
        Table(self.0.iter().zip(&other.0).map(|(a, b)| of(*a, *b)).collect())
    }

    pub(super) fn at(&self, place: usize) -> bool {
        self.0.get(place / 64).is_some_and(|word| word >> (place % 64) & 1 == 1)
    }
}

/// What stands behind some expressions of one package, down to what comes from outside of it.
pub(super) struct Cone<'c> {
    circuit: &'c Circuit,
    package: &'c str,
    bits: &'c [ElementId],
    pub(super) leaves: Vec<Expr>,
    /// Whether an expression is being followed: what stands behind itself has no table.
    reached: HashMap<Expr, bool>,
    tables: HashMap<Expr, Table>,
}

/// What an expression is for a cone.
enum Seen {
    Bit(usize, bool),
    Leaf,
    /// What the package itself puts there.
    Inner(Expr),
    Op,
}

impl<'c> Cone<'c> {
    pub(super) fn new(circuit: &'c Circuit, package: &'c str, bits: &'c [ElementId]) -> Self {
        Cone { circuit, package, bits, leaves: Vec::new(), reached: HashMap::new(), tables: HashMap::new() }
    }

    /// Whether the package itself drives, at a pin or within.
    fn is_own(&self, by: &By) -> bool {
        match by {
            By::Pin { package, .. } | By::Within { package, .. } => package == self.package,
            By::Resistor(_) | By::Drivers(_) | By::Signal(_) => false,
        }
    }

    fn seen(&self, e: Expr) -> Seen {
        let bit = |x: ElementId| self.bits.iter().position(|b| *b == x);
        match self.circuit.op(e) {
            Op::Q(x) => bit(x).map_or(Seen::Leaf, |i| Seen::Bit(i, false)),
            Op::QInverted(x) => bit(x).map_or(Seen::Leaf, |i| Seen::Bit(i, true)),
            Op::Net(n) => match self.circuit.nets().get(n.index()).map(|n| n.drivers.as_slice()) {
                Some([d]) if is_always(d) && self.is_own(&d.by) => Seen::Inner(d.level),
                _ => Seen::Leaf,
            },
            _ => Seen::Op,
        }
    }

    /// Finds what comes from outside; nothing if something stands behind itself.
    pub(super) fn reach(&mut self, e: Expr) -> Option<()> {
        match self.reached.get(&e) {
            Some(true) => return None,
            Some(false) => return Some(()),
            None => {}
        }
        self.reached.insert(e, true);
        match self.seen(e) {
            Seen::Bit(..) => {}
            Seen::Leaf => self.leaves.push(e),
            Seen::Inner(level) => self.reach(level)?,
            Seen::Op => {
                for operand in self.circuit.op(e).operands() {
                    self.reach(operand)?;
                }
            }
        }
        self.reached.insert(e, false);
        Some(())
    }

    pub(super) fn variables(&self) -> usize {
        self.bits.len() + self.leaves.len()
    }

    /// Over the bits, then what comes from outside.
    pub(super) fn table(&mut self, e: Expr) -> Option<Table> {
        if let Some(known) = self.tables.get(&e) {
            return Some(known.clone());
        }
        let count = self.variables();
        let not = |t: Table| Table(t.0.iter().map(|w| !w).collect());
        let table = match self.seen(e) {
            Seen::Bit(i, inverted) => {
                let bit = Table::variable(count, i);
                if inverted { not(bit) } else { bit }
            }
            Seen::Leaf => Table::variable(count, self.bits.len() + self.leaves.iter().position(|leaf| *leaf == e)?),
            Seen::Inner(level) => self.table(level)?,
            Seen::Op => match self.circuit.op(e) {
                Op::Constant(level) => Table::constant(count, level),
                Op::Not(a) => not(self.table(a)?),
                Op::And(a, b) => self.table(a)?.with(&self.table(b)?, |a, b| a & b),
                Op::Or(a, b) => self.table(a)?.with(&self.table(b)?, |a, b| a | b),
                Op::Xor(a, b) => self.table(a)?.with(&self.table(b)?, |a, b| a ^ b),
                Op::Choose(c, a, b) => {
                    let (c, a, b) = (self.table(c)?, self.table(a)?, self.table(b)?);
                    let then = c.with(&a, |c, a| c & a);
                    then.with(&c.with(&b, |c, b| !c & b), |a, b| a | b)
                }
                Op::Net(_) | Op::Q(_) | Op::QInverted(_) => return None,
            },
        };
        self.tables.insert(e, table.clone());
        Some(table)
    }
}
