//! What each register of a circuit samples, by which clock, and who reads it.
use std::collections::BTreeSet;

use gluewright_kernel::circuit::{Circuit, Direction, Expr, Label, Net, Op};

/// What a register or latch reads.
#[derive(Clone, Debug, Default)]
pub(super) struct Reads {
    pub(super) is_register: bool,
    /// Contacts that its data read through gates.
    pub(super) data: BTreeSet<Label>,
    /// Elements that its data read through gates.
    elements: BTreeSet<usize>,
    /// Contacts that its clock or gate reads, through registers too.
    pub(super) clocks: BTreeSet<Label>,
    /// Everything that stands as its data, if that is a plain wire: a contact or an element.
    plain: Option<Plain>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Plain {
    Contact(Label),
    Element(usize),
}

pub(super) struct Walk<'c> {
    circuit: &'c Circuit,
    reads: Vec<Reads>,
    /// For each element, whether something else than the data of elements reads it.
    shown: Vec<bool>,
}

impl<'c> Walk<'c> {
    pub(super) fn new(circuit: &'c Circuit) -> Self {
        let mut walk = Walk { circuit, reads: Vec::new(), shown: vec![false; circuit.elements().len()] };
        let direct: Vec<(BTreeSet<Label>, BTreeSet<usize>)> =
            circuit.elements().iter().map(|e| walk.leaves(e.gate())).collect();
        for (i, e) in circuit.elements().iter().enumerate() {
            let (is_register, data) = (e.is_register(), e.data());
            let (contacts, mut elements) = walk.leaves(data);
            elements.remove(&i);
            let (mut clocks, mut wanted, mut seen) = (BTreeSet::new(), vec![i], BTreeSet::new());
            while let Some(at) = wanted.pop() {
                if let Some((contacts, through)) = direct.get(at).filter(|_| seen.insert(at)) {
                    clocks.extend(contacts.iter().cloned());
                    wanted.extend(through.iter().copied());
                }
            }
            walk.reads.push(Reads { is_register, data: contacts, elements, clocks, plain: walk.plain(data) });
        }
        let mut used = Vec::new();
        for e in circuit.elements() {
            used.extend([e.clear, e.preset, e.gate()]);
        }
        for contact in circuit.contacts().iter().filter(|c| c.direction != Direction::Input) {
            used.extend(circuit.nets().get(contact.net.index()).into_iter().flat_map(Net::inputs));
        }
        for e in used {
            for element in walk.leaves(e).1 {
                if let Some(shown) = walk.shown.get_mut(element) {
                    *shown = true;
                }
            }
        }
        walk
    }

    /// All elements that sample.
    pub(super) fn registers(&self) -> impl Iterator<Item = &Reads> {
        self.reads.iter().filter(|r| r.is_register)
    }

    /// The registers that sample a contact on a clock.
    pub(super) fn samplers(&self, contact: &Label, clock: &Label) -> Vec<usize> {
        let samples = |r: &Reads| r.is_register && r.data.contains(contact) && r.clocks.contains(clock);
        (0..self.reads.len()).filter(|&i| self.reads.get(i).is_some_and(samples)).collect()
    }

    pub(super) fn names(&self, elements: &[usize]) -> Vec<String> {
        elements.iter().filter_map(|&i| self.circuit.elements().get(i)).map(|e| e.name.clone()).collect()
    }

    /// How many registers stand in a row behind a contact before anything else reads one.
    pub(super) fn stages(&self, samplers: &[usize], contact: &Label) -> usize {
        let &[first] = samplers else { return usize::from(!samplers.is_empty()) };
        if self.reads.get(first).is_none_or(|r| r.plain != Some(Plain::Contact(contact.clone()))) {
            return 0;
        }
        let (mut stages, mut at) = (1, first);
        while stages <= self.reads.len() && !self.shown.get(at).copied().unwrap_or(true) {
            let readers: Vec<usize> = (0..self.reads.len())
                .filter(|&i| i != at && self.reads.get(i).is_some_and(|r| r.elements.contains(&at)))
                .collect();
            let &[next] = readers.as_slice() else { break };
            let plain = self.reads.get(next).filter(|r| r.is_register).and_then(|r| r.plain.as_ref());
            if plain != Some(&Plain::Element(at)) {
                break;
            }
            stages += 1;
            at = next;
        }
        stages
    }

    /// The contact or element that an expression is, inverted or not, through nets that carry nothing else.
    fn plain(&self, e: Expr) -> Option<Plain> {
        let mut at = e;
        for _ in 0..=self.circuit.nets().len() {
            match self.circuit.op(at) {
                Op::Not(a) => at = a,
                Op::Q(element) | Op::QInverted(element) => return Some(Plain::Element(element.index())),
                Op::Net(net) => {
                    let net = self.circuit.nets().get(net.index())?;
                    let contact = net.contact.and_then(|c| self.circuit.contacts().get(c.index()));
                    match (contact.filter(|c| c.direction != Direction::Output), net.drivers.as_slice()) {
                        (Some(contact), _) => return Some(Plain::Contact(contact.label.clone())),
                        (None, [driver]) if driver.enable == Expr::HIGH => at = driver.level,
                        _ => return None,
                    }
                }
                _ => return None,
            }
        }
        None
    }

    /// The contacts and elements that an expression reads through gates.
    fn leaves(&self, e: Expr) -> (BTreeSet<Label>, BTreeSet<usize>) {
        // an open latch lets its data through
        let mut roots = vec![e];
        let (mut contacts, mut elements) = (BTreeSet::new(), BTreeSet::new());
        while !roots.is_empty() {
            let cone = self.circuit.cone(std::mem::take(&mut roots), |v| !v.is_element());
            for net in cone.nets().filter_map(|n| self.circuit.nets().get(n.index())) {
                let contact = net.contact.and_then(|c| self.circuit.contacts().get(c.index()));
                contacts.extend(contact.filter(|c| c.direction != Direction::Output).map(|c| c.label.clone()));
            }
            for id in cone.elements().filter(|e| elements.insert(e.index())) {
                let latch = self.circuit.elements().get(id.index()).filter(|e| !e.is_register());
                roots.extend(latch.map(|e| e.data()));
            }
        }
        (contacts, elements)
    }
}
