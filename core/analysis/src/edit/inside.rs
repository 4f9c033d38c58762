//! Changes inside one expression: the whole of it, a signal, a factor or an alternative, an operator.
use std::collections::BTreeSet;

use super::list::Lister;
use super::substitute::{Swap, cone};
use super::words::{condition, level, literal, signal, verb};
use super::{Change, EditKind, Slot};
use gluewright_kernel::circuit::{Circuit, Expr, Op, Stage, Unateness};

impl Lister<'_> {
    /// Changes inside one expression.
    pub(super) fn slot(&mut self, slot: Slot) {
        let circuit = self.circuit;
        let root = slot.read(circuit);
        let pulls = matches!(slot, Slot::Level(n, k)
            if circuit.nets().get(n.index()).and_then(|n| n.drivers.get(k)).is_some_and(|d| d.stage == Stage::OpenCollector));
        if root.as_constant().is_some() && (pulls || !matches!(slot, Slot::Level(..) | Slot::Data(_))) {
            return;
        }
        let (verb, is_condition) = verb(circuit, slot);
        let inverts = match slot {
            Slot::Clock(_) if !is_condition => EditKind::EdgeSwapped,
            _ if is_condition => EditKind::ConditionInverted,
            _ => EditKind::LevelInverted,
        };
        let whole = |words: String| (Change::Inside(slot, vec![(root, Swap::Not)]), words);
        if let Some((leaf, plain)) = literal(circuit, root) {
            if self.is_behind(leaf) {
                return;
            }
            let name = signal(circuit, leaf).unwrap_or_default();
            let (change, words) = whole(match (inverts, plain) {
                (EditKind::EdgeSwapped, true) => format!("loads when {name} falls instead of rises"),
                (EditKind::EdgeSwapped, false) => format!("loads when {name} rises instead of falls"),
                (EditKind::ConditionInverted, _) => {
                    format!("{verb} while {name} is {} instead of {}", level(!plain), level(plain))
                }
                (_, true) => format!("{verb} with {name} inverted"),
                (_, false) => format!("{verb} with {name} as it is instead of inverted"),
            });
            self.add(inverts, slot, change, words);
            return;
        }
        let (change, words) = whole(match inverts {
            EditKind::EdgeSwapped => format!("loads when ({}) ends instead of begins", condition(circuit, root)),
            EditKind::ConditionInverted => format!("{verb} exactly when it should not be"),
            _ => match root.as_constant() {
                Some(was) => format!("{verb} {} instead of {}", level(!was), level(was)),
                None => format!("{verb} inverted as a whole"),
            },
        });
        self.add(inverts, slot, change, words);
        self.signals_inside(slot, root);
        self.operators_inside(slot, root);
        self.places_inside(slot, root);
    }

    /// Whether a slot that only reads this net is the very pin behind a value: what would be changed here is changed
    /// there already.
    fn is_behind(&self, leaf: Expr) -> bool {
        let Some(n) = self.circuit.op(leaf).as_net() else { return false };
        let Some(net) = self.circuit.nets().get(n.index()) else { return false };
        let one = matches!(net.drivers.as_slice(), [d] if d.enable == Expr::HIGH);
        one && net.contact.is_none() && self.readers.get(n.index()) == Some(&1)
    }

    /// One signal inverted, and two exchanged.
    fn signals_inside(&mut self, slot: Slot, root: Expr) {
        let circuit = self.circuit;
        let (verb, is_condition) = verb(circuit, slot);
        let leaves: Vec<(Expr, String)> =
            cone(circuit, root).into_iter().filter_map(|e| Some((e, signal(circuit, e)?))).collect();
        let kind = if is_condition { EditKind::ConditionInverted } else { EditKind::LevelInverted };
        for (leaf, name) in &leaves {
            let words = match (is_condition, polarity(circuit, root, *leaf)) {
                (true, Some(high)) => format!("{verb} while {name} is {} instead of {}", level(!high), level(high)),
                _ => format!("{verb} with {name} inverted"),
            };
            self.add(kind, slot, Change::Inside(slot, vec![(*leaf, Swap::Not)]), words);
        }
        for (i, (a, name_a)) in leaves.iter().enumerate() {
            for (b, name_b) in leaves.get(i + 1..).unwrap_or_default() {
                let swaps = vec![(*a, Swap::Other(*b)), (*b, Swap::Other(*a))];
                let words = format!("{verb} with {name_a} and {name_b} exchanged");
                self.add_if_changed(EditKind::SignalsExchanged, slot, swaps, words);
            }
        }
    }

    /// Factors and alternatives left out, operators exchanged.
    fn operators_inside(&mut self, slot: Slot, root: Expr) {
        let circuit = self.circuit;
        let (verb, _) = verb(circuit, slot);
        // an *or* under an odd number of inversions is a product, and the other way round
        for e in cone(circuit, root) {
            let (Op::And(a, b) | Op::Or(a, b)) = circuit.op(e) else { continue };
            let upright = polarity(circuit, root, e).unwrap_or(true);
            let is_product = matches!(circuit.op(e), Op::And(..)) == upright;
            for (dropped, kept) in [(a, b), (b, a)] {
                let mut what = condition(circuit, dropped);
                if !upright {
                    what = match literal(circuit, dropped) {
                        Some((leaf, plain)) => {
                            format!("{} is {}", signal(circuit, leaf).unwrap_or_default(), level(!plain))
                        }
                        None => format!("¬({what})"),
                    };
                }
                let (kind, words) = match is_product {
                    true => (EditKind::LiteralDropped, format!("{verb} without the condition that {what}")),
                    false => (EditKind::TermDropped, format!("{verb} without the alternative that {what}")),
                };
                self.add_if_changed(kind, slot, vec![(e, Swap::Other(kept))], words);
            }
            if e != root {
                let (kind, words) =
                    (EditKind::LevelInverted, format!("{verb} with ({}) inverted", condition(circuit, e)));
                self.add_if_changed(kind, slot, vec![(e, Swap::Not)], words);
            }
            let (is, other) = if is_product { ("and", "or") } else { ("or", "and") };
            let words = format!("{verb} with *{other}* instead of *{is}* in ({})", condition(circuit, e));
            self.add_if_changed(EditKind::OperatorExchanged, slot, vec![(e, Swap::OtherOperator)], words);
        }
    }

    /// A signal that stands at several places, inverted at one of them.
    fn places_inside(&mut self, slot: Slot, root: Expr) {
        let circuit = self.circuit;
        let (verb, is_condition) = verb(circuit, slot);
        let kind = if is_condition { EditKind::ConditionInverted } else { EditKind::LevelInverted };
        for (e, k, leaf) in places(circuit, root) {
            let Some(name) = signal(circuit, leaf) else { continue };
            let words = format!("{verb} with {name} inverted in ({})", condition(circuit, e));
            self.add_if_changed(kind, slot, vec![(e, Swap::Operand(k))], words);
        }
    }

    fn add_if_changed(&mut self, kind: EditKind, slot: Slot, swaps: Vec<(Expr, Swap)>, words: String) {
        let root = slot.read(self.circuit);
        // equal handles are equal expressions, also in a copy that has grown
        if super::substitute(&mut self.trial, root, &swaps) != root {
            self.add(kind, slot, Change::Inside(slot, swaps), words);
        }
    }
}

/// Where a signal or a formula stands that stands at several places: in which expression, as which operand of it.
pub(super) fn places(circuit: &Circuit, root: Expr) -> Vec<(Expr, usize, Expr)> {
    let stands = |o: Expr| match circuit.op(o) {
        Op::And(..) | Op::Or(..) => Some(o),
        _ => literal(circuit, o).map(|(leaf, _)| leaf),
    };
    let all: Vec<(Expr, usize, Expr)> = cone(circuit, root)
        .into_iter()
        .filter(|&e| circuit.op(e).operands().count() > 1)
        .flat_map(|e| circuit.op(e).operands().enumerate().map(move |(k, o)| (e, k, o)))
        .filter_map(|(e, k, o)| Some((e, k, stands(o)?)))
        .collect();
    let is_one_of_several = |of: &Expr| all.iter().filter(|p| p.2 == *of).count() > 1;
    all.iter().filter(|(.., of)| is_one_of_several(of)).copied().collect()
}

/// Whether `inner` counts towards `root` as it is (true) or inverted (false); nothing if both or neither.
pub(super) fn polarity(circuit: &Circuit, root: Expr, inner: Expr) -> Option<bool> {
    let (mut upright, mut inverted) = (BTreeSet::new(), BTreeSet::new());
    upright.insert(root);
    // from the root down: what uses an expression stands behind it
    for &e in cone(circuit, root).iter().rev() {
        let op = circuit.op(e);
        for (o, way) in op.operands().zip(op.unateness()) {
            let (both, turns) = (way == Unateness::Either, way == Unateness::Opposite);
            for (has, as_is) in [(upright.contains(&e), true), (inverted.contains(&e), false)] {
                if has && (both || as_is != turns) {
                    upright.insert(o);
                }
                if has && (both || as_is == turns) {
                    inverted.insert(o);
                }
            }
        }
    }
    match (upright.contains(&inner), inverted.contains(&inner)) {
        (true, false) => Some(true),
        (false, true) => Some(false),
        _ => None,
    }
}
