//! Splits a pair into parts that share nothing but the levels of their inputs: which contacts must stay in one part.
//!
//! The machine of a side is a product of machines if its cones of influence are disjoint but for inputs: each part's state
//! follows from its own and the inputs, its start is chosen by itself, and so is every unknown, which is one for each cell
//! or floating net. What contacts show is compared contact by contact, never one beside another. So the replacement
//! refines the original if and only if each part of it refines the same part of the original under every sequence of
//! events, as far as that part sees them. Two contacts are in one part if, on either side,
//!
//! - what they depend on has a register, a latch, a net of a loop or a floating net in common, or drivers that may fight;
//! - an assumption, a restriction or a group bears on a contact that somebody drives, and both depend on a contact that it
//!   bears on: then what the board may do follows from what the card shows.
//!
//! Assumptions, restrictions and groups over inputs alone join nothing: a part keeps all contacts that they tie to its
//! inputs, though it does not read them, and so sees exactly the events that the whole would show it; any other contact
//! moves in events of its own, which a part without floating nets does not notice. A part with a floating net, which reads
//! anything anew at each event, keeps all contacts that the board moves.
use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::circuit::{Circuit, Cone, Contact, ElementId, Label, NetId, Pull, Stage, Through, Vertex};

use crate::machine::Place;

use super::Question;
use super::assume::{Assumption, Restriction};
use super::pair::Pair;

/// Nets and elements of the whole, in the order in which a part has them.
#[derive(Debug)]
pub(super) struct Origins {
    nets: Vec<NetId>,
    elements: Vec<ElementId>,
}

impl Origins {
    fn of(cone: &Cone) -> Self {
        let (mut nets, mut elements): (Vec<NetId>, Vec<ElementId>) = (cone.nets().collect(), cone.elements().collect());
        nets.sort_unstable();
        elements.sort_unstable();
        Origins { nets, elements }
    }

    /// Where in the whole a cell of the part stands.
    pub(super) fn place(&self, of: Place) -> Option<Place> {
        match of {
            Place::Element(e) => self.elements.get(e.index()).copied().map(Place::Element),
            Place::Mark(e) => self.elements.get(e.index()).copied().map(Place::Mark),
            Place::Net(n) => self.nets.get(n.index()).copied().map(Place::Net),
        }
    }
}

/// A part of a pair.
pub(super) struct Part {
    /// The contacts at which the two sides are compared.
    pub(super) contacts: BTreeSet<Label>,
    /// The question about it.
    pub(super) question: Question,
    /// Where it comes from, by side.
    pub(super) origins: [Origins; 2],
    /// Registers, latches and nets of both sides: how large it is.
    pub(super) size: usize,
}

/// What is joined.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
enum Node {
    Contact(Label),
    Element(usize, ElementId),
    /// A net that holds something: of a loop, or floating.
    Net(usize, NetId),
    /// What bears on contacts together.
    Tie(usize),
    /// Everything that no contact depends on.
    Unseen,
}

/// Sets of nodes. (Union and find: Galler and Fischer 1964.)
#[derive(Default)]
struct Sets {
    of: HashMap<Node, usize>,
    to: Vec<usize>,
}

impl Sets {
    fn node(&mut self, node: Node) -> usize {
        let next = self.to.len();
        let at = *self.of.entry(node).or_insert(next);
        if at == next {
            self.to.push(next);
        }
        at
    }

    fn root(&mut self, mut at: usize) -> usize {
        while let Some(&next) = self.to.get(at).filter(|&&next| next != at) {
            at = next;
        }
        at
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        if let Some(slot) = self.to.get_mut(a.max(b)) {
            *slot = a.min(b);
        }
    }
}

/// The contacts that an assumption or a restriction bears on.
fn borne(question: &Question) -> Vec<BTreeSet<Label>> {
    let all = |labels: Vec<Label>| labels.into_iter().collect::<BTreeSet<Label>>();
    let assumed = question.assumptions.iter().map(|a| all(labels_of(a)));
    let restricted = question.restrictions.iter().map(|r| all(labels_of_restriction(r)));
    let grouped = question.groups.iter().map(|g| all(g.clone()));
    assumed.chain(restricted).chain(grouped).collect()
}

pub(super) fn labels_of(assumption: &Assumption) -> Vec<Label> {
    let mut labels = Vec::new();
    assumption.holds.contacts(&mut labels);
    labels
}

pub(super) fn labels_of_restriction(restriction: &Restriction) -> Vec<Label> {
    let mut labels = restriction.contacts.clone();
    restriction.only_while.contacts(&mut labels);
    labels
}

/// Contacts that are tied to each other through what is assumed, directly or through others.
fn ties(question: &Question) -> Vec<BTreeSet<Label>> {
    let mut ties: Vec<BTreeSet<Label>> = Vec::new();
    for mut labels in borne(question) {
        ties.retain(|t| {
            let apart = t.is_disjoint(&labels);
            if !apart {
                labels.extend(t.iter().cloned());
            }
            apart
        });
        ties.push(labels);
    }
    ties
}

/// A net of a side that nobody may drive, so that what reads it reads anything.
fn may_float(circuit: &Circuit, net: NetId) -> bool {
    circuit.nets().get(net.index()).is_some_and(|n| {
        n.contact.is_none()
            && n.pull == Pull::None
            && n.drivers.iter().any(|d| d.stage != Stage::OpenCollector)
            && !n.drivers.iter().any(|d| d.enable.as_constant() == Some(true))
    })
}

/// What one contact of a side depends on.
struct Hangs {
    side: usize,
    of: Node,
    cone: Cone,
}

/// The parts of a pair, small ones first; nothing if it does not fall apart.
pub(super) fn divide(question: &Question, pair: &Pair) -> Vec<Part> {
    let circuits = [&question.original, &question.replacement];
    let is_driven = |label: &Label| {
        circuits.iter().any(|c| {
            let nets = c.contacts().iter().filter(|k| k.label == *label).filter_map(|k| c.nets().get(k.net.index()));
            nets.into_iter().any(|n| !n.drivers.is_empty() || n.pull != Pull::None)
        })
    };
    let mut all = Vec::new();
    for (side, circuit) in circuits.into_iter().enumerate() {
        let mut seen: Vec<Vertex> = Vec::new();
        for contact in circuit.contacts().iter().filter(|c| is_driven(&c.label)) {
            let cone = circuit.cone([Vertex::Net(contact.net)], |_| true);
            seen.extend(cone.nets().map(Vertex::Net).chain(cone.elements().map(Vertex::Element)));
            all.push(Hangs { side, of: Node::Contact(contact.label.clone()), cone });
        }
        // what is there for its own sake, because it might fight or never come to rest
        let seen: Cone = seen.into_iter().collect();
        let nets = circuit.numbered_nets().filter(|(id, n)| n.contact.is_none() && !seen.contains(*id));
        let elements = circuit.numbered_elements().filter(|(id, _)| !seen.contains(*id));
        let left = nets.map(|(id, _)| Vertex::Net(id)).chain(elements.map(|(id, _)| Vertex::Element(id)));
        let left: Vec<Vertex> = left.collect();
        if !left.is_empty() {
            all.push(Hangs { side, of: Node::Unseen, cone: circuit.cone(left, |_| true) });
        }
    }
    let ties = ties(question);
    let tie_of = |label: &Label| ties.iter().position(|t| t.contains(label));
    let is_tied: Vec<bool> = ties.iter().map(|t| t.iter().any(is_driven)).collect();
    let mut sets = Sets::default();
    let feedback = circuits.map(|c| c.feedback(Through::Gates));
    for Hangs { side, of, cone } in &all {
        let circuit = circuits[*side];
        let at = sets.node(of.clone());
        let holds =
            |net: &NetId| feedback[*side].contains(*net) || may_float(circuit, *net) || may_fight(circuit, *net);
        let mut nodes: Vec<Node> = cone.elements().map(|e| Node::Element(*side, e)).collect();
        nodes.extend(cone.nets().filter(holds).map(|n| Node::Net(*side, n)));
        nodes.extend(labels_in(circuit, cone).filter_map(tie_of).filter(|&t| is_tied[t]).map(Node::Tie));
        for node in nodes {
            let node = sets.node(node);
            sets.join(at, node);
        }
    }
    let mut parts: BTreeMap<usize, Vec<Hangs>> = BTreeMap::new();
    for hangs in all {
        let at = sets.node(hangs.of.clone());
        parts.entry(sets.root(at)).or_default().push(hangs);
    }
    if parts.len() < 2 {
        return Vec::new();
    }
    let mut parts: Vec<Part> = parts.into_values().map(|all| part(question, pair, &all, &ties)).collect();
    parts.sort_by_key(|p| p.size);
    parts
}

/// A net whose drivers may disagree: whether they do is looked at in the part that they belong to.
fn may_fight(circuit: &Circuit, net: NetId) -> bool {
    let drivers = circuit.nets().get(net.index()).map_or(&[][..], |n| &n.drivers);
    drivers.len() > 1 && drivers.iter().any(|d| d.stage != Stage::OpenCollector)
}

/// The contacts whose nets are in a cone.
fn labels_in<'c>(circuit: &'c Circuit, cone: &'c Cone) -> impl Iterator<Item = &'c Label> {
    circuit.contacts().iter().filter(|c| cone.contains(c.net)).map(|c| &c.label)
}

/// The part that these cones make up.
fn part(question: &Question, pair: &Pair, all: &[Hangs], ties: &[BTreeSet<Label>]) -> Part {
    let whole = [&question.original, &question.replacement];
    let contact = |h: &Hangs| if let Node::Contact(label) = &h.of { Some(label.clone()) } else { None };
    let contacts: BTreeSet<Label> = all.iter().filter_map(contact).collect();
    let mut floats = false;
    let mut size = 0;
    let mut origins = [0, 1].map(|_| Origins { nets: Vec::new(), elements: Vec::new() });
    let mut circuits = [0, 1].map(|side: usize| {
        let cones = || all.iter().filter(|h| h.side == side).map(|h| &h.cone);
        let nets = cones().flat_map(|c| c.nets().map(Vertex::Net));
        let cone = whole[side].cone(nets.chain(cones().flat_map(|c| c.elements().map(Vertex::Element))), |_| true);
        floats |= cone.nets().any(|n| may_float(whole[side], n));
        size += cone.nets().count() + 8 * cone.elements().count();
        origins[side] = Origins::of(&cone);
        whole[side].kept(&cone)
    });
    let mut labels: BTreeSet<Label> =
        circuits.iter().flat_map(|c| c.contacts().iter().map(|c| c.label.clone())).collect();
    let mut kept: BTreeSet<Label> = ties.iter().filter(|t| !t.is_disjoint(&labels)).flatten().cloned().collect();
    if floats {
        kept.extend(pair.contacts.iter().filter(|c| c.is_free).map(|c| c.label.clone()));
    }
    let beside: Vec<Label> = kept.difference(&labels).cloned().collect();
    for label in &beside {
        let of = whole.iter().find_map(|c| c.contacts().iter().find(|k| k.label == *label));
        if let (Some(contact), [_, replacement]) = (of, &mut circuits) {
            let net = replacement.add_net(contact.name.clone(), contact.origin.clone());
            replacement.add_contact(Contact { net, ..contact.clone() });
        }
    }
    labels.extend(beside.iter().cloned());
    let within = |of: &[Label]| of.iter().all(|l| labels.contains(l));
    let mut groups: Vec<Vec<Label>> = question.groups.iter().filter(|g| !g.is_empty() && within(g)).cloned().collect();
    // a contact that nobody reads moves all the same, for what is assumed depends on it
    let grouped: BTreeSet<Label> = groups.iter().flatten().cloned().collect();
    groups.extend(beside.into_iter().filter(|l| !grouped.contains(l)).map(|l| vec![l]));
    let [original, replacement] = circuits;
    let question = Question {
        original,
        replacement,
        assumptions: question.assumptions.iter().filter(|a| within(&labels_of(a))).cloned().collect(),
        restrictions: question.restrictions.iter().filter(|r| within(&labels_of_restriction(r))).cloned().collect(),
        groups,
        ..question.clone()
    };
    Part { contacts, question, origins, size }
}
