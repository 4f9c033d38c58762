//! What is brought into a part of a formula, or into one that stands at several places.
use super::bring::NearLister;
use super::inside::{places, polarity};
use super::known::uses;
use super::list::slots;
use super::near::{How, Join, Near};
use super::substitute::cone;
use super::words::{condition, level, literal, signal, verb};
use super::{Change, Edit, EditKind, Slot, Uses};
use gluewright_kernel::circuit::{Expr, Op, Origin};

impl NearLister<'_> {
    /// What was written once and is used in several places.
    pub(super) fn everywhere(&self, all: &mut Vec<Edit>) {
        let circuit = self.circuit;
        let reads = |slot: Slot| (slot.is_of_driver(), cone(circuit, slot.read(circuit)));
        let read: Vec<(bool, Vec<Expr>)> = slots(circuit).into_iter().map(reads).collect();
        for (of, uses) in uses(circuit) {
            let is_formula = matches!(circuit.op(of), Op::And(..) | Op::Or(..));
            if uses < 2 || !(is_formula || literal(circuit, of).is_some()) {
                continue;
            }
            let whole = condition(circuit, of);
            // what stands for itself somewhere may be right there, and wrong where it is a part of something
            let is_whole = slots(circuit).into_iter().map(|slot| slot.read(circuit));
            let alone = is_whole.filter(|&root| root == of || circuit.op(root) == Op::Not(of)).count();
            let mut meant = vec![Uses::All];
            if is_formula && alone > 0 {
                meant.push(Uses::AsPart);
            }
            // a name that was given to it may stand where something is driven, and itself where something is stored
            let (drive, store): (Vec<_>, Vec<_>) = read.iter().filter(|(_, e)| e.contains(&of)).partition(|(d, _)| *d);
            if drive.len() > 1 && !store.is_empty() {
                meant.push(Uses::InDrivers);
            }
            let leaves: Vec<Expr> = match is_formula {
                true => cone(circuit, of).into_iter().filter(|&e| signal(circuit, e).is_some()).collect(),
                false => Vec::new(),
            };
            for &near in self.signals.iter().chain(&self.formulas).filter(|&&n| n != Near::Formula(of)) {
                let name = near.name(circuit);
                for high in [true, false] {
                    let mut add = |kind: EditKind, words: String, how: How| {
                        for &uses in &meant {
                            let used = match uses {
                                Uses::All => "used",
                                Uses::AsPart => "a part of a condition",
                                Uses::InDrivers => "used in what is driven",
                            };
                            all.push(Edit {
                                kind,
                                words: format!("{words}, wherever ({whole}) is {used}"),
                                name: whole.clone(),
                                origin: Origin::Nowhere,
                                changes: vec![Change::NearEverywhere(of, how, (near, high), uses)],
                            });
                        }
                    };
                    for &leaf in leaves.iter().filter(|&&leaf| Near::of(circuit, leaf) != Some(near)) {
                        let stands = signal(circuit, leaf).unwrap_or_default();
                        let words = match polarity(circuit, of, leaf) {
                            Some(p) => format!("{} instead of {stands} is {}", near.so(&name, p == high), level(p)),
                            None => format!("{} instead of {stands} is high", near.so(&name, high)),
                        };
                        add(EditKind::SignalReplaced, words, How::Instead(leaf));
                    }
                    let so = near.so(&name, high);
                    add(EditKind::ConditionAdded, format!("the condition that {so} is added"), How::And(of));
                    add(EditKind::TermAdded, format!("the alternative that {so} is added"), How::Or(of));
                }
            }
        }
    }

    /// Parts of a formula: another one in the place of one, and what is missing in one.
    pub(super) fn parts(&self, slot: Slot, all: &mut Vec<Edit>) {
        let circuit = self.circuit;
        let root = slot.read(circuit);
        let (name, origin) = slot.place(circuit);
        let (verb, _) = verb(circuit, slot);
        let is = if matches!(slot, Slot::Data(_)) { "" } else { "is " };
        let parts: Vec<Expr> = cone(circuit, root)
            .into_iter()
            .filter(|&e| matches!(circuit.op(e), Op::And(..) | Op::Or(..)) || literal(circuit, e).is_some())
            .collect();
        let mut add = |kind: EditKind, words: String, how: How, near: (Near, bool)| {
            all.push(Edit {
                kind,
                words: format!("`{name}` {is}{verb} {words}"),
                name: name.clone(),
                origin: origin.clone(),
                changes: vec![Change::Near(slot, how, near)],
            });
        };
        for (within, k, leaf) in places(circuit, root) {
            let Some(operand) = circuit.op(within).operands().nth(k) else { continue };
            let whole = condition(circuit, within);
            let stands_for = Near::of(circuit, leaf).unwrap_or(Near::Formula(leaf));
            for (near, with) in self.for_place(slot, &name).filter(|(near, _)| *near != stands_for) {
                for high in [true, false] {
                    let (so, near) = (near.so(&with, high), (near, high));
                    let stands = condition(circuit, operand);
                    let mut at = |kind: EditKind, said: &str, join: Join| {
                        let words = format!("with the {said} ({stands}) in ({whole})");
                        add(kind, words, How::At(within, operand, join), near);
                    };
                    let also = [
                        ("condition", EditKind::ConditionAdded, Join::And),
                        ("alternative", EditKind::TermAdded, Join::Or),
                    ];
                    for (what, kind, join) in also {
                        at(kind, &format!("{what} that {so} added to"), join);
                    }
                    at(EditKind::SignalReplaced, &format!("condition that {so} in place of"), Join::Instead);
                }
            }
        }
        for &part in &parts {
            let is_formula = literal(circuit, part).is_none();
            let stands = format!("({})", condition(circuit, part));
            for (near, with) in self.for_place(slot, &name) {
                if near == Near::Formula(part) || Near::of(circuit, part) == Some(near) {
                    continue;
                }
                for high in [true, false] {
                    let so = near.so(&with, high);
                    if is_formula {
                        let words = format!("with the condition that {so} in place of {stands}");
                        add(EditKind::SignalReplaced, words, How::Instead(part), (near, high));
                    }
                    if part != root {
                        let words = format!("with the condition that {so} added to {stands}");
                        add(EditKind::ConditionAdded, words, How::And(part), (near, high));
                        let words = format!("with the alternative that {so} added to {stands}");
                        add(EditKind::TermAdded, words, How::Or(part), (near, high));
                    }
                }
            }
        }
    }
}
