//! Every single change of a circuit, place by place.
use std::collections::{BTreeMap, BTreeSet};

use super::substitute::{Swap, cone};
use super::words::{condition, level, signal, verb};
use super::{Change, Edit, EditKind, Slot};
use gluewright_kernel::circuit::{Circuit, Contact, ContactId, ElementId, Expr, Kind, NetId, Origin, Start};

/// Every change of one thing at one place: elements first, then drivers, then contacts, in the circuit's order. What
/// folds to the same circuit is left out; a change may still be none in behaviour.
pub fn edits(circuit: &Circuit) -> Vec<Edit> {
    let mut lister = Lister { circuit, edits: Vec::new(), readers: readers(circuit), trial: circuit.clone() };
    for i in 0..circuit.elements().len() {
        lister.element(ElementId::at(i));
    }
    for (i, net) in circuit.nets().iter().enumerate() {
        for k in 0..net.drivers.len() {
            lister.driver(NetId::at(i), k);
        }
    }
    lister.contacts();
    lister.edits
}

/// Contacts that go different ways, exchanged: what each is for changes too, so these are no changes of one circuit at its own
/// contacts, and stand by themselves.
pub(crate) fn exchanges_of_ways(circuit: &Circuit) -> Vec<Edit> {
    let mut lister = Lister { circuit, edits: Vec::new(), readers: Vec::new(), trial: circuit.clone() };
    lister.exchanges(|a, b| a.direction != b.direction);
    lister.edits
}

/// [`edits`], and before them those that one line of the source makes at several places at once: the same change of
/// every bit of an array, and a change at all uses of what was written once and is used in several places.
pub fn edits_by_line(circuit: &Circuit) -> Vec<Edit> {
    let single = edits(circuit);
    let mut all = by_line(circuit, &single);
    all.extend(super::shared::edits_at_all_uses(circuit, &single));
    all.extend(single);
    all
}

/// The same change of every bit of an array, where one line of the source makes it.
pub(super) fn by_line(circuit: &Circuit, single: &[Edit]) -> Vec<Edit> {
    grouped(circuit, single).0
}

/// The same changes with those of all bits of an array as one, and what these are made of by itself.
pub(super) fn lines_and_bits(circuit: &Circuit, single: Vec<Edit>) -> [Vec<Edit>; 2] {
    let (mut lines, members) = grouped(circuit, &single);
    let mut bits = Vec::new();
    for (k, edit) in single.into_iter().enumerate() {
        if members.contains(&k) { &mut bits } else { &mut lines }.push(edit);
    }
    [lines, bits]
}

/// The changes of all bits of an array as one, and which of the single ones are in them.
fn grouped(circuit: &Circuit, single: &[Edit]) -> (Vec<Edit>, BTreeSet<usize>) {
    let mut groups: BTreeMap<(String, EditKind, String), Vec<(usize, &Edit)>> = BTreeMap::new();
    for (k, edit) in single.iter().enumerate() {
        if let Origin::Line { .. } = &edit.origin {
            let key = (edit.origin.to_string(), edit.kind, without_numbers(&edit.words));
            groups.entry(key).or_default().push((k, edit));
        }
    }
    let mut all: Vec<Edit> = Vec::new();
    let mut members = BTreeSet::new();
    for ((_, kind, words), group) in groups {
        let (numbers, group): (Vec<usize>, Vec<&Edit>) = group.into_iter().unzip();
        let places: BTreeSet<&str> = group.iter().map(|e| e.name.as_str()).collect();
        // more changes than places: not one for each bit, but several in one expression
        let Some(first) = group.first().filter(|_| places.len() == group.len() && group.len() > 1) else { continue };
        members.extend(numbers);
        // where two numbers of one bit differ, `[…]` would not say which
        let words = match is_of_one_bit(circuit, first) {
            true => words,
            false => format!("{words} (bit by bit: {}, and so on)", first.words),
        };
        all.push(Edit {
            kind,
            name: without_numbers(&first.name),
            origin: first.origin.clone(),
            words,
            changes: group.iter().flat_map(|e| e.changes.iter().cloned()).collect(),
        });
    }
    (all, members)
}

/// A participle gets its verb: `driven while …` becomes `is driven while …`.
fn predicate(words: &str) -> String {
    let first = words.split(' ').next().unwrap_or_default();
    if matches!(first, "loads" | "follows" | "starts") { words.to_owned() } else { format!("is {words}") }
}

/// Whether all that a change speaks of has one number in its array, or none.
fn is_of_one_bit(circuit: &Circuit, edit: &Edit) -> bool {
    let mut names: Vec<String> = edit.changes.iter().flat_map(|change| change.speaks_of(circuit)).collect();
    names.retain(|name| super::near::index(name).is_some());
    let numbers: BTreeSet<&str> = names.iter().filter_map(|name| super::near::index(name)).collect();
    numbers.len() < 2
}

impl Change {
    /// The names of what it changes, and of the signals that it brings in, takes out or turns.
    fn speaks_of(&self, circuit: &Circuit) -> Vec<String> {
        let read = |e: Expr| cone(circuit, e).into_iter().filter_map(|e| signal(circuit, e)).collect::<Vec<_>>();
        let element = |e: ElementId| circuit.elements().get(e.index()).map(|e| e.name.clone());
        let swaps = |swaps: &[(Expr, Swap)]| -> Vec<String> {
            let other = |swap: &Swap| match swap {
                Swap::Other(e) => read(*e),
                Swap::Not | Swap::OtherOperator | Swap::Operand(_) => Vec::new(),
            };
            swaps.iter().flat_map(|(of, swap)| [read(*of), other(swap)].concat()).collect()
        };
        match self {
            Change::Inside(slot, of) => [vec![slot.place(circuit).0], swaps(of)].concat(),
            Change::Everywhere(_, of) => swaps(of),
            Change::Set(slot, e) | Change::Also(slot, e) => [vec![slot.place(circuit).0], read(*e)].concat(),
            Change::Near(slot, how, (near, _)) => {
                [vec![slot.place(circuit).0, near.name(circuit)], how.of().map(read).unwrap_or_default()].concat()
            }
            Change::NearEverywhere(of, how, (near, _), _) => {
                [read(*of), vec![near.name(circuit)], how.of().map(read).unwrap_or_default()].concat()
            }
            Change::Stage(net, k, _) => vec![Slot::Level(*net, *k).place(circuit).0],
            Change::ExchangeOverrides(e) | Change::OtherKind(e) | Change::Start(e, _) => {
                element(*e).into_iter().collect()
            }
            Change::ExchangeContacts(a, b) => {
                let name = |c: &ContactId| circuit.contacts().get(c.index()).map(|c| c.name.clone());
                [a, b].into_iter().filter_map(name).collect()
            }
            Change::Whole(_) => Vec::new(),
        }
    }
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
    for (e, _) in circuit.numbered_elements() {
        all.extend([Slot::Clock(e), Slot::Data(e), Slot::Clear(e), Slot::Preset(e)]);
    }
    for (i, net) in circuit.nets().iter().enumerate() {
        for k in 0..net.drivers.len() {
            all.extend([Slot::Enable(NetId::at(i), k), Slot::Level(NetId::at(i), k)]);
        }
    }
    all
}

/// For each net, how many slots read it.
fn readers(circuit: &Circuit) -> Vec<usize> {
    let mut count = vec![0; circuit.nets().len()];
    for slot in slots(circuit) {
        for e in cone(circuit, slot.read(circuit)) {
            if let Some(count) = circuit.op(e).as_net().and_then(|n| count.get_mut(n.index())) {
                *count += 1;
            }
        }
    }
    count
}

pub(super) struct Lister<'c> {
    pub(super) circuit: &'c Circuit,
    edits: Vec<Edit>,
    pub(super) readers: Vec<usize>,
    /// A copy in which changed expressions are made to see whether they fold to the same.
    pub(super) trial: Circuit,
}

impl Lister<'_> {
    pub(super) fn add(&mut self, kind: EditKind, slot: Slot, change: Change, words: String) {
        let (name, origin) = slot.place(self.circuit);
        let words = format!("`{name}` {}", predicate(&words));
        self.edits.push(Edit { kind, words, name, origin, changes: vec![change] });
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

    fn contacts(&mut self) {
        self.exchanges(|a, b| a.direction == b.direction);
        self.arrays();
    }

    fn exchanges(&mut self, which: impl Fn(&Contact, &Contact) -> bool) {
        let contacts = self.circuit.contacts();
        for (i, a) in contacts.iter().enumerate() {
            for (j, b) in contacts.iter().enumerate().skip(i + 1).filter(|(_, b)| which(a, b)) {
                self.edits.push(Edit {
                    kind: EditKind::ContactsExchanged,
                    name: a.name.clone(),
                    origin: a.origin.clone(),
                    words: format!("contacts {} `{}` and {} `{}` are exchanged", a.label, a.name, b.label, b.name),
                    changes: vec![Change::ExchangeContacts(ContactId::at(i), ContactId::at(j))],
                });
            }
        }
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
            let id = |i: usize| ContactId::at(i);
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
