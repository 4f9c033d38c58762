//! What stands nearby: the signals and formulas of a circuit that a person may have meant.
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::Slot;
use super::list::slots;
use super::near::Near;
use super::substitute::cone;
use gluewright_kernel::circuit::{Circuit, Expr, Op};

/// The signals and formulas that something reads, and at which level.
pub(super) fn written(circuit: &Circuit) -> BTreeSet<(Near, bool)> {
    let mut all = BTreeSet::new();
    for slot in slots(circuit) {
        let root = slot.read(circuit);
        let operands = cone(circuit, root).into_iter().flat_map(|e| match circuit.op(e) {
            Op::Not(_) => Vec::new(),
            op => op.operands().collect(),
        });
        for e in operands.chain([root]) {
            let (of, high) = match circuit.op(e) {
                Op::Not(a) => (a, false),
                _ => (e, true),
            };
            all.insert((Near::of(circuit, of).unwrap_or(Near::Formula(of)), high));
        }
    }
    all
}

/// Formulas at most that are brought in.
const MOST_FORMULAS: usize = 16;
/// The most of these that nothing uses.
const MOST_UNUSED: usize = 4;

/// Conditions that were written and then used nowhere, for something may have taken their place; then those that have more
/// than one use, or are the whole of what something depends on: those used most first.
pub(super) fn formulas(circuit: &Circuit) -> Vec<Near> {
    let whole: BTreeSet<Expr> =
        slots(circuit).into_iter().filter(|s| !matches!(s, Slot::Level(..))).map(|s| s.read(circuit)).collect();
    let is_formula = |e: &Expr| matches!(circuit.op(*e), Op::And(..) | Op::Or(..));
    let mut all = uses(circuit);
    let known: BTreeSet<Expr> = all.iter().map(|(e, _)| *e).collect();
    all.retain(|(e, _)| is_formula(e));
    all.retain(|(e, uses)| *uses > 1 || whole.contains(e));
    all.sort_by_key(|(e, uses)| (Reverse(*uses), *e));
    let operands: BTreeSet<Expr> = circuit.expressions().flat_map(|e| circuit.op(e).operands()).collect();
    let unused = circuit.expressions().filter(|e| is_formula(e) && !known.contains(e) && !operands.contains(e));
    let used = all.into_iter().map(|(e, _)| e);
    unused.take(MOST_UNUSED).chain(used).take(MOST_FORMULAS).map(Near::Formula).collect()
}

/// For each expression, at how many places it is used; all bits of an array are one place.
pub(super) fn uses(circuit: &Circuit) -> Vec<(Expr, usize)> {
    let mut uses: BTreeMap<Expr, BTreeSet<(String, String)>> = BTreeMap::new();
    for slot in slots(circuit) {
        let (name, origin) = slot.place(circuit);
        for e in cone(circuit, slot.read(circuit)) {
            uses.entry(e).or_default().insert((super::list::without_numbers(&name), origin.to_string()));
        }
    }
    uses.into_iter().map(|(e, of)| (e, of.len())).collect()
}

/// What a person may have meant: contacts that are read, stored bits, and values that have a name.
pub(super) fn signals(circuit: &Circuit) -> Vec<Near> {
    let mut all: Vec<Near> = Vec::new();
    let mut shown = BTreeSet::new();
    for (id, net) in circuit.numbered_nets() {
        let bit = match net.drivers.as_slice() {
            [d] => match circuit.op(d.level) {
                Op::Q(e) => Some(e),
                _ => None,
            },
            _ => None,
        };
        match bit {
            // it is the bit itself
            Some(e) => {
                shown.insert(e);
                all.push(Near::Bit(e));
            }
            None if net.value_of.is_none() => all.push(Near::Net(id)),
            None => {}
        }
    }
    all.extend(circuit.numbered_elements().map(|(id, _)| id).filter(|id| !shown.contains(id)).map(Near::Bit));
    all.sort();
    all.dedup();
    all
}
