//! Every single change of a circuit, place by place.
use std::collections::{BTreeMap, BTreeSet};

use super::substitute::{Swap, cone, operands};
use super::words::{condition, level, literal, signal, verb};
use super::{Change, Edit, EditKind, Slot};
use crate::circuit::{Circuit, ContactId, ElementId, Expr, Kind, NetId, Op, Origin, Stage, Start};

/// Every change of one thing at one place: elements first, then drivers, then contacts, in the circuit's order. What
/// folds to the same circuit is left out; a change may still be none in behaviour.
pub fn edits(circuit: &Circuit) -> Vec<Edit> {
    let mut lister = Lister { circuit, edits: Vec::new(), readers: readers(circuit), trial: circuit.clone() };
    for i in 0..circuit.elements().len() {
        lister.element(ElementId(i as u32));
    }
    for (i, net) in circuit.nets().iter().enumerate() {
        for k in 0..net.drivers.len() {
            lister.driver(NetId(i as u32), k);
        }
    }
    lister.contacts();
    lister.edits
}

/// [`edits`], and before them those that one line of the source makes at several places at once: the same change of
/// every bit of an array, and a change at all uses of what was written once and is used in several places.
pub fn edits_by_line(circuit: &Circuit) -> Vec<Edit> {
    let single = edits(circuit);
    let mut groups: BTreeMap<(String, EditKind, String), Vec<&Edit>> = BTreeMap::new();
    for edit in &single {
        if let Origin::Line { .. } = &edit.origin {
            groups.entry((edit.origin.to_string(), edit.kind, without_numbers(&edit.words))).or_default().push(edit);
        }
    }
    let mut all: Vec<Edit> = Vec::new();
    for ((_, kind, words), group) in groups {
        let places: BTreeSet<&str> = group.iter().map(|e| e.name.as_str()).collect();
        // more changes than places: not one for each bit, but several in one expression
        let Some(first) = group.first().filter(|_| places.len() == group.len() && group.len() > 1) else { continue };
        all.push(Edit {
            kind,
            name: without_numbers(&first.name),
            origin: first.origin.clone(),
            words,
            changes: group.iter().flat_map(|e| e.changes.iter().cloned()).collect(),
        });
    }
    all.extend(super::shared::edits_at_all_uses(circuit, &single));
    all.extend(single);
    all
}

/// A participle gets its verb: `driven while …` becomes `is driven while …`.
fn predicate(words: &str) -> String {
    let first = words.split(' ').next().unwrap_or_default();
    if matches!(first, "loads" | "follows" | "starts") { words.to_owned() } else { format!("is {words}") }
}

/// `data[3]` as `data[…]`.
pub(super) fn without_numbers(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut rest = words;
    while let Some((before, after)) = rest.split_once('[') {
        out.push_str(before);
        out.push('[');
        rest = after;
        if let Some((number, after)) = rest.split_once(']')
            && !number.is_empty()
            && number.bytes().all(|b| b.is_ascii_digit())
        {
            out.push_str("…]");
            rest = after;
        }
    }
    out.push_str(rest);
    out
}

/// All slots of a circuit.
pub(super) fn slots(circuit: &Circuit) -> Vec<Slot> {
    let mut all = Vec::new();
    for i in 0..circuit.elements().len() as u32 {
        let e = ElementId(i);
        all.extend([Slot::Clock(e), Slot::Data(e), Slot::Clear(e), Slot::Preset(e)]);
    }
    for (i, net) in circuit.nets().iter().enumerate() {
        for k in 0..net.drivers.len() {
            all.extend([Slot::Enable(NetId(i as u32), k), Slot::Level(NetId(i as u32), k)]);
        }
    }
    all
}

/// For each net, how many slots read it.
fn readers(circuit: &Circuit) -> Vec<usize> {
    let mut count = vec![0; circuit.nets().len()];
    for slot in slots(circuit) {
        for e in cone(circuit, slot.read(circuit)) {
            if let Op::Net(n) = circuit.op(e)
                && let Some(count) = count.get_mut(n.index())
            {
                *count += 1;
            }
        }
    }
    count
}

struct Lister<'c> {
    circuit: &'c Circuit,
    edits: Vec<Edit>,
    readers: Vec<usize>,
    /// A copy in which changed expressions are made to see whether they fold to the same.
    trial: Circuit,
}

impl Lister<'_> {
    fn add(&mut self, kind: EditKind, slot: Slot, change: Change, words: String) {
        let (name, origin) = self.place(slot);
        let words = format!("`{name}` {}", predicate(&words));
        self.edits.push(Edit { kind, words, name, origin, changes: vec![change] });
    }

    fn place(&self, slot: Slot) -> (String, Origin) {
        match slot {
            Slot::Enable(net, k) | Slot::Level(net, k) => {
                let net = self.circuit.nets().get(net.index());
                net.and_then(|n| n.drivers.get(k)).map(|d| (d.name.clone(), d.origin.clone()))
            }
            Slot::Clock(e) | Slot::Data(e) | Slot::Clear(e) | Slot::Preset(e) => {
                self.circuit.elements().get(e.index()).map(|e| (e.name.clone(), e.origin.clone()))
            }
        }
        .unwrap_or_default()
    }

    fn element(&mut self, id: ElementId) {
        let Some(e) = self.circuit.elements().get(id.index()).cloned() else { return };
        self.slot(Slot::Clock(id));
        self.slot(Slot::Data(id));
        self.slot(Slot::Clear(id));
        self.slot(Slot::Preset(id));
        for (slot, kind, words) in [
            (Slot::Clear(id), EditKind::ClearDropped, "never cleared"),
            (Slot::Preset(id), EditKind::PresetDropped, "never preset"),
        ] {
            if slot.read(self.circuit) != Expr::LOW {
                self.add(kind, slot, Change::Set(slot, Expr::LOW), words.to_owned());
            }
        }
        if e.clear != e.preset {
            let words = "cleared when it should be preset, and preset when it should be cleared".to_owned();
            self.add(EditKind::OverridesExchanged, Slot::Clear(id), Change::ExchangeOverrides(id), words);
        }
        self.overrides_added(id);
        let (kind, words) = match e.kind {
            Kind::Register { clock, .. } => {
                let open = condition(self.circuit, clock);
                (EditKind::RegisterMadeLatch, format!("a latch that is open while {open}, instead of a register"))
            }
            Kind::Latch { open, .. } => {
                let edge = condition(self.circuit, open);
                (
                    EditKind::LatchMadeRegister,
                    format!("a register that loads when {edge} from now on, instead of a latch"),
                )
            }
        };
        self.add(kind, Slot::Clock(id), Change::OtherKind(id), words);
        for start in [Start::Low, Start::High] {
            let Some(high) = start.level().filter(|_| start != e.start) else { continue };
            let instead = match e.start.level() {
                Some(was) => format!(" instead of {}", level(was)),
                None => String::new(),
            };
            let words = format!("starts {}{instead}", level(high));
            self.add(EditKind::StartChanged, Slot::Data(id), Change::Start(id, start), words);
        }
    }

    /// Conditions that clear or preset other elements, for this one too.
    fn overrides_added(&mut self, id: ElementId) {
        let mut known: Vec<Expr> = Vec::new();
        for e in self.circuit.elements() {
            known.extend([e.clear, e.preset].into_iter().filter(|&x| x.as_constant().is_none()));
        }
        known.sort();
        known.dedup();
        for slot in [Slot::Clear(id), Slot::Preset(id)] {
            let now = slot.read(self.circuit);
            let (verb, _) = verb(self.circuit, slot);
            for &more in known.iter().filter(|&&more| more != now) {
                let words = format!("also {verb} while {}", condition(self.circuit, more));
                self.add(EditKind::ClearAdded, slot, Change::Also(slot, more), words);
            }
        }
    }

    fn driver(&mut self, net: NetId, k: usize) {
        let Some(d) = self.circuit.nets().get(net.index()).and_then(|n| n.drivers.get(k)).cloned() else { return };
        let (enable, shown) = (Slot::Enable(net, k), Slot::Level(net, k));
        let (verb, _) = verb(self.circuit, enable);
        self.slot(enable);
        self.slot(shown);
        if d.enable != Expr::HIGH {
            let change = Change::Set(enable, Expr::HIGH);
            self.add(EditKind::DriveForced, enable, change, format!("always {verb}"));
        }
        // a name for a value has no output stage that could be left out
        let is_name = d.enable == Expr::HIGH
            && self.circuit.nets().get(net.index()).is_some_and(|n| n.contact.is_none() && n.drivers.len() == 1);
        if d.enable != Expr::LOW && !is_name {
            let change = Change::Set(enable, Expr::LOW);
            self.add(EditKind::DriveDropped, enable, change, format!("never {verb}"));
        }
    }

    /// Changes inside one expression.
    fn slot(&mut self, slot: Slot) {
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
        let Op::Net(n) = self.circuit.op(leaf) else { return false };
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
        let cone = cone(circuit, root);
        let places: Vec<(Expr, usize, Expr)> = cone
            .iter()
            .filter(|&&e| matches!(circuit.op(e), Op::And(..) | Op::Or(..) | Op::Xor(..) | Op::Choose(..)))
            .flat_map(|&e| operands(circuit.op(e)).into_iter().enumerate().map(move |(k, o)| (e, k, o)))
            .filter_map(|(e, k, o)| Some((e, k, literal(circuit, o)?.0)))
            .collect();
        for &(e, k, leaf) in &places {
            if places.iter().filter(|p| p.2 == leaf).count() < 2 {
                continue;
            }
            let name = signal(circuit, leaf).unwrap_or_default();
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

    fn contacts(&mut self) {
        let contacts = self.circuit.contacts();
        for (i, a) in contacts.iter().enumerate() {
            for (j, b) in contacts.iter().enumerate().skip(i + 1).filter(|(_, b)| a.direction == b.direction) {
                self.edits.push(Edit {
                    kind: EditKind::ContactsExchanged,
                    name: a.name.clone(),
                    origin: a.origin.clone(),
                    words: format!("contacts {} `{}` and {} `{}` are exchanged", a.label, a.name, b.label, b.name),
                    changes: vec![Change::ExchangeContacts(ContactId(i as u32), ContactId(j as u32))],
                });
            }
        }
        self.arrays();
    }

    /// The contacts of an array of three and more in the other order; of two, that is an exchange.
    fn arrays(&mut self) {
        let mut arrays: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (i, c) in self.circuit.contacts().iter().enumerate() {
            let stem = without_numbers(&c.name);
            if stem != c.name {
                arrays.entry(stem).or_default().push(i);
            }
        }
        for (stem, of) in arrays {
            let contact = |at: Option<&usize>| at.and_then(|&i| self.circuit.contacts().get(i));
            let (Some(first), Some(last)) = (contact(of.first()), contact(of.last())) else { continue };
            if of.len() < 3 {
                continue;
            }
            let id = |i: usize| ContactId(i as u32);
            let pairs = of.iter().zip(of.iter().rev()).take(of.len() / 2);
            self.edits.push(Edit {
                kind: EditKind::ContactsExchanged,
                words: format!("contacts {} to {} are `{stem}` in the other order", first.label, last.label),
                name: stem,
                origin: first.origin.clone(),
                changes: pairs.map(|(&i, &j)| Change::ExchangeContacts(id(i), id(j))).collect(),
            });
        }
    }
}

/// Whether `inner` counts towards `root` as it is (true) or inverted (false); nothing if both or neither.
pub(super) fn polarity(circuit: &Circuit, root: Expr, inner: Expr) -> Option<bool> {
    let (mut upright, mut inverted) = (BTreeSet::new(), BTreeSet::new());
    upright.insert(root);
    // from the root down: what uses an expression stands behind it
    for &e in cone(circuit, root).iter().rev() {
        let op = circuit.op(e);
        for (k, o) in operands(op).into_iter().enumerate() {
            let both = matches!((op, k), (Op::Xor(..), _) | (Op::Choose(..), 0));
            let turns = matches!(op, Op::Not(_));
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
