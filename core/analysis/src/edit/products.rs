//! Alternatives that are missing: products of two or three conditions that stand nearby.
use super::bring::NearLister;
use super::near::{How, Near, index};
use super::words::verb;
use super::{Change, Edit, EditKind, Slot};
use gluewright_kernel::circuit::{NetId, Op, Polarity};

impl NearLister<'_> {
    /// An alternative of two conditions that is missing.
    pub(super) fn two(&self, slot: Slot, all: &mut Vec<Edit>) {
        let near = self.conditions(slot, |near, high| self.is_usual(near, high));
        let products = near.iter().enumerate().flat_map(|(k, a)| near.iter().skip(k + 1).map(move |b| vec![a, b]));
        self.alternatives(slot, products, all);
    }

    /// An alternative of three conditions that is missing; only of such as are read somewhere at that level, and no clock is.
    pub(super) fn three(&self, slot: Slot, all: &mut Vec<Edit>) {
        let place = slot.place(self.circuit).0;
        let is_clock = |net: NetId| {
            let contact = self.circuit.nets().get(net.index()).and_then(|n| n.contact);
            contact.and_then(|c| self.circuit.contacts().get(c.index())).is_some_and(|c| c.polarity == Polarity::Clock)
        };
        let near = self.conditions(slot, |near, high| {
            let is_other_bit = index(&place).is_none() && index(&near.name(self.circuit)).is_some();
            self.written.contains(&(near, high)) && !is_other_bit && !matches!(near, Near::Net(n) if is_clock(n))
        });
        for (k, a) in near.iter().enumerate() {
            for (n, b) in near.iter().enumerate().skip(k + 1) {
                self.alternatives(slot, near.iter().skip(n + 1).map(|c| vec![a, b, c]), all);
            }
        }
    }

    /// What may stand in an alternative of what a register loads, or of what is shown, with its words.
    fn conditions(&self, slot: Slot, is_one: impl Fn(Near, bool) -> bool) -> Vec<(Near, bool, String)> {
        if !matches!(slot, Slot::Data(_) | Slot::Level(..)) {
            return Vec::new();
        }
        let name = slot.place(self.circuit).0;
        self.for_place(slot, &name)
            .flat_map(|(near, with)| [true, false].map(|high| (near, high, near.so(&with, high))))
            .filter(|(near, high, _)| is_one(*near, *high))
            .collect()
    }

    /// These products as alternatives of a slot.
    fn alternatives<'n>(
        &self,
        slot: Slot,
        products: impl Iterator<Item = Vec<&'n (Near, bool, String)>>,
        all: &mut Vec<Edit>,
    ) {
        let circuit = self.circuit;
        let root = slot.read(circuit);
        let (name, origin) = slot.place(circuit);
        let (verb, _) = verb(circuit, slot);
        let is = if matches!(slot, Slot::Data(_)) { "" } else { "is " };
        // of what is inverted as a whole, the alternative is one of what is inverted
        let (of, shown) = match circuit.op(root) {
            Op::Not(inner) => (inner, "low"),
            _ => (root, "high"),
        };
        for product in products {
            let factors: Vec<(Near, bool)> = product.iter().map(|(near, high, _)| (*near, *high)).collect();
            let (Some(&first), Some(&second), third) = (factors.first(), factors.get(1), factors.get(2).copied())
            else {
                continue;
            };
            // a signal and its complement are never both so
            if first.0 == second.0 || third.is_some_and(|(near, _)| near == first.0 || near == second.0) {
                continue;
            }
            let so: Vec<&str> = product.iter().map(|(_, _, so)| so.as_str()).collect();
            all.push(Edit {
                kind: EditKind::TermAdded,
                words: format!("`{name}` {is}{verb} {shown} also while {}", so.join(" and ")),
                name: name.clone(),
                origin: origin.clone(),
                changes: vec![Change::Near(slot, How::OrAll(of, second, third), first)],
            });
        }
    }
}
