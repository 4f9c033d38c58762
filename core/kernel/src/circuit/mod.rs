//! The circuit: contacts, nets, registers and latches over shared Boolean expressions. Surface, board, devices and fuse
//! maps all become one of these, and everything else starts from it.
mod check;
mod cone;
mod copy;
mod delays;
mod element;
mod expression;
mod feedback;
mod label;
mod live;
mod net;
mod origin;
mod place;
mod wires;

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::atomic::{AtomicU64, Ordering};

pub use check::Malformed;
pub use cone::{Cone, Vertex};
pub use copy::Copied;
pub use delays::{Delays, Span, Steady};
pub use element::{Element, ElementId, Kind, Start};
pub use expression::{Expr, Op, Unateness};
pub(crate) use feedback::Through;
pub use label::Label;
pub use net::{By, Contact, ContactId, Direction, Driver, Net, NetId, Polarity, Pull, Rail, Stage};
pub use origin::Origin;
pub use place::{Landing, Placed};

use crate::figures::OpenInput;

/// Contacts, nets, registers and latches, and the expressions between them.
///
/// A circuit may hold combinational loops: a net's drivers may read the net itself. Nothing in here knows how a circuit
/// behaves in time; the machine does.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// Name of the circuit, for files and messages.
    pub name: String,
    ops: Vec<Op>,
    index: HashMap<Op, Expr>,
    nets: Vec<Net>,
    elements: Vec<Element>,
    contacts: Vec<Contact>,
    supplies: Vec<(Label, Rail)>,
    /// Contacts that are one wire outside of what drives and reads them.
    joined: Vec<Vec<Label>>,
    /// Figures of its parts, by which orders of changes are judged.
    delays: Delays,
    /// What its handles are marked with, beside what they stand for; copies keep it.
    stamp: u64,
    /// The mark of each expression.
    marks: Vec<u32>,
    /// Where a handle of another circuit was first used.
    foreign: Option<Origin>,
}

/// Told apart: circuits that are made anew.
static CIRCUITS: AtomicU64 = AtomicU64::new(1);

impl Circuit {
    /// An empty circuit.
    pub fn new(name: impl Into<String>) -> Self {
        let mut circuit = Circuit {
            name: name.into(),
            ops: Vec::new(),
            index: HashMap::new(),
            nets: Vec::new(),
            elements: Vec::new(),
            contacts: Vec::new(),
            supplies: Vec::new(),
            joined: Vec::new(),
            delays: Delays::default(),
            stamp: CIRCUITS.fetch_add(1, Ordering::Relaxed),
            marks: Vec::new(),
            foreign: None,
        };
        circuit.intern(Op::Constant(false));
        circuit.intern(Op::Constant(true));
        circuit
    }

    /// What an expression is made of.
    ///
    /// A handle of another circuit reads as low: handles don't travel.
    pub fn op(&self, e: Expr) -> Op {
        match self.own(e) {
            Some(own) => self.ops.get(own.index()).copied().unwrap_or(Op::Constant(false)),
            None => Op::Constant(false),
        }
    }

    /// All expressions, operands before what uses them.
    pub fn expressions(&self) -> impl DoubleEndedIterator<Item = Expr> + use<> {
        (0..self.ops.len()).map(Expr::at)
    }

    /// How many expressions there are; their handles count from 0, operands before what uses them.
    pub fn expression_count(&self) -> usize {
        self.ops.len()
    }

    /// All nets.
    pub fn nets(&self) -> &[Net] {
        &self.nets
    }

    /// All registers and latches.
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// All contacts, in the order in which they were declared.
    pub fn contacts(&self) -> &[Contact] {
        &self.contacts
    }

    /// All nets with their handles, in order.
    pub fn numbered_nets(&self) -> impl Iterator<Item = (NetId, &Net)> {
        self.nets.iter().enumerate().map(|(i, net)| (NetId(i as u32), net))
    }

    /// All registers and latches with their handles, in order.
    pub fn numbered_elements(&self) -> impl Iterator<Item = (ElementId, &Element)> {
        self.elements.iter().enumerate().map(|(i, element)| (ElementId(i as u32), element))
    }

    /// All contacts with their handles, in order.
    pub fn numbered_contacts(&self) -> impl Iterator<Item = (ContactId, &Contact)> {
        self.contacts.iter().enumerate().map(|(i, contact)| (ContactId(i as u32), contact))
    }

    /// Groups of contacts that one wire joins: whoever drives one of them drives all. While the circuit drives none of a
    /// group, the board holds all of it at one level.
    pub fn joined_contacts(&self) -> &[Vec<Label>] {
        &self.joined
    }

    /// Says that one wire joins these contacts, each on a net of its own: what drives the first drives the others too.
    pub fn join_contacts(&mut self, contacts: Vec<Label>) {
        let Some((first, others)) = contacts.split_first().filter(|(_, others)| !others.is_empty()) else { return };
        let lead = self.net_at(first).and_then(|net| self.nets.get(net.index()));
        let drivers = lead.map(|net| net.drivers.clone()).unwrap_or_default();
        for other in others {
            let Some(net) = self.net_at(other).and_then(|net| self.nets.get_mut(net.index())) else { continue };
            net.drivers.clone_from(&drivers);
        }
        self.joined.push(contacts);
    }

    /// How long its outputs take, as far as figures are known.
    pub fn delays(&self) -> &Delays {
        &self.delays
    }

    /// The same, to be filled.
    pub fn delays_mut(&mut self) -> &mut Delays {
        &mut self.delays
    }

    /// The contacts that carry a supply rail.
    pub fn supplies(&self) -> &[(Label, Rail)] {
        &self.supplies
    }

    /// The condition under which nobody knows what a register loads on its edge; low if that is always known.
    pub fn loads_unknown(&self, element: ElementId) -> Expr {
        self.elements.get(element.index()).map_or(Expr::LOW, |e| e.unknown_load)
    }

    /// Says that nobody knows what a register loads on an edge before which this is true: its data sheet leaves it open.
    /// Its data are then what it usually loads. It means nothing for a latch.
    #[track_caller]
    pub fn load_unknown_while(&mut self, element: ElementId, when: Expr) {
        let known = self.loads_unknown(element);
        let when = self.or(known, when);
        if let Some(e) = self.element_mut(element) {
            e.unknown_load = when;
        }
    }

    /// One net, to change it.
    pub fn net_mut(&mut self, net: NetId) -> Option<&mut Net> {
        self.nets.get_mut(net.index())
    }

    /// One register or latch, to change it.
    pub fn element_mut(&mut self, element: ElementId) -> Option<&mut Element> {
        self.elements.get_mut(element.index())
    }

    /// One contact, to change it.
    pub fn contact_mut(&mut self, contact: ContactId) -> Option<&mut Contact> {
        self.contacts.get_mut(contact.index())
    }

    /// What a person calls a net: the value that an output reads back has the output's name.
    pub fn called(&self, net: NetId) -> &str {
        let own = self.nets.get(net.index());
        let shown = own.and_then(|n| n.value_of).and_then(|of| self.nets.get(of.index()));
        shown.or(own).map_or("", |n| &n.name)
    }

    /// The net of that name.
    pub fn find_net(&self, name: &str) -> Option<NetId> {
        self.nets.iter().position(|n| n.name == name).map(|i| NetId(i as u32))
    }

    /// The register or latch of that name.
    pub fn find_element(&self, name: &str) -> Option<ElementId> {
        self.elements.iter().position(|e| e.name == name).map(|i| ElementId(i as u32))
    }

    /// The contact with that label.
    pub fn find_contact(&self, label: &Label) -> Option<ContactId> {
        self.contacts.iter().position(|c| &c.label == label).map(|i| ContactId(i as u32))
    }

    /// Adds a net that nobody drives yet. The caller keeps names unique.
    pub fn add_net(&mut self, name: impl Into<String>, origin: Origin) -> NetId {
        let (name, drivers, open_read) = (name.into(), Vec::new(), OpenInput::High);
        self.nets.push(Net { name, value_of: None, drivers, pull: Pull::None, open_read, contact: None, origin });
        NetId(self.nets.len() as u32 - 1)
    }

    /// Adds a net that holds the value of an expression: a name for it.
    pub fn add_node(&mut self, name: impl Into<String>, value: Expr, origin: Origin) -> NetId {
        let name = name.into();
        let net = self.add_net(name.clone(), origin.clone());
        self.drive(
            net,
            Driver { enable: Expr::HIGH, level: value, stage: Stage::PushPull, by: By::Signal(name), origin },
        );
        net
    }

    /// Adds a driver to a net; if its contact is the first of a [joined group](Circuit::join_contacts), to the nets of the
    /// others too. One for a net that is not there drives nothing, and [`check`](Circuit::check) says so.
    #[track_caller]
    pub fn drive(&mut self, net: NetId, driver: Driver) {
        if net.index() >= self.nets.len() {
            self.foreign.get_or_insert_with(Origin::here);
        }
        let label = self.nets.get(net.index()).and_then(|n| n.contact).and_then(|c| self.contacts.get(c.index()));
        let group = label.and_then(|c| self.joined.iter().find(|group| group.first() == Some(&c.label)));
        let others: Vec<NetId> = group.into_iter().flatten().skip(1).filter_map(|l| self.net_at(l)).collect();
        for on in std::iter::once(net).chain(others) {
            if let Some(n) = self.nets.get_mut(on.index()) {
                n.drivers.push(driver.clone());
            }
        }
    }

    fn net_at(&self, label: &Label) -> Option<NetId> {
        self.contacts.iter().find(|c| &c.label == label).map(|c| c.net)
    }

    /// Adds a register or latch. The caller keeps names unique.
    pub fn add_element(&mut self, element: Element) -> ElementId {
        self.elements.push(element);
        ElementId(self.elements.len() as u32 - 1)
    }

    /// Adds a contact on a net.
    pub fn add_contact(&mut self, contact: Contact) -> ContactId {
        let id = ContactId(self.contacts.len() as u32);
        if let Some(n) = self.nets.get_mut(contact.net.index()) {
            n.contact = Some(id);
        }
        self.contacts.push(contact);
        id
    }

    /// Declares a contact that carries a supply rail.
    pub fn add_supply(&mut self, label: Label, rail: Rail) {
        self.supplies.push((label, rail));
    }

    /// An expression of this circuit made of this, folded where that is possible.
    pub fn expression(&mut self, op: Op) -> Expr {
        match op {
            Op::Constant(high) => Expr::constant(high),
            Op::Net(_) | Op::Q(_) | Op::QInverted(_) => self.intern(op),
            Op::Not(a) => self.not(a),
            Op::And(a, b) => self.and(a, b),
            Op::Or(a, b) => self.or(a, b),
            Op::Xor(a, b) => self.xor(a, b),
            Op::Choose(when, then, otherwise) => self.choose(when, then, otherwise),
        }
    }

    /// The level of a net.
    pub fn net(&mut self, net: NetId) -> Expr {
        self.intern(Op::Net(net))
    }

    /// What a register or latch holds.
    pub fn q(&mut self, element: ElementId) -> Expr {
        self.intern(Op::Q(element))
    }

    /// The complementary output of a register or latch.
    pub fn q_inverted(&mut self, element: ElementId) -> Expr {
        self.intern(Op::QInverted(element))
    }

    /// Not.
    #[track_caller]
    pub fn not(&mut self, a: Expr) -> Expr {
        let a = self.taken(a);
        match self.op(a) {
            Op::Constant(value) => Expr::constant(!value),
            Op::Not(inner) => inner,
            _ => self.intern(Op::Not(a)),
        }
    }

    /// And.
    #[track_caller]
    pub fn and(&mut self, a: Expr, b: Expr) -> Expr {
        let (a, b) = (self.taken(a), self.taken(b));
        let (a, b) = (a.min(b), a.max(b));
        match (a.as_constant(), b) {
            (Some(false), _) => Expr::LOW,
            (Some(true), _) => b,
            _ if a == b => a,
            _ if self.opposite(a, b) => Expr::LOW,
            _ => self.intern(Op::And(a, b)),
        }
    }

    /// Or.
    #[track_caller]
    pub fn or(&mut self, a: Expr, b: Expr) -> Expr {
        let (a, b) = (self.taken(a), self.taken(b));
        let (a, b) = (a.min(b), a.max(b));
        match (a.as_constant(), b) {
            (Some(false), _) => b,
            (Some(true), _) => Expr::HIGH,
            _ if a == b => a,
            _ if self.opposite(a, b) => Expr::HIGH,
            _ => self.intern(Op::Or(a, b)),
        }
    }

    /// Exclusive or.
    #[track_caller]
    pub fn xor(&mut self, a: Expr, b: Expr) -> Expr {
        let (a, b) = (self.taken(a), self.taken(b));
        let (a, b) = (a.min(b), a.max(b));
        match (a.as_constant(), b) {
            (Some(false), _) => b,
            (Some(true), _) => self.not(b),
            _ if a == b => Expr::LOW,
            _ if self.opposite(a, b) => Expr::HIGH,
            _ => self.intern(Op::Xor(a, b)),
        }
    }

    /// `then` while `when`, `otherwise` while not.
    #[track_caller]
    pub fn choose(&mut self, when: Expr, then: Expr, otherwise: Expr) -> Expr {
        let (when, then, otherwise) = (self.taken(when), self.taken(then), self.taken(otherwise));
        match when.as_constant() {
            Some(true) => then,
            Some(false) => otherwise,
            None if then == otherwise => then,
            None => self.intern(Op::Choose(when, then, otherwise)),
        }
    }

    /// And over any number; high for none.
    #[track_caller]
    pub fn all(&mut self, of: impl IntoIterator<Item = Expr>) -> Expr {
        of.into_iter().fold(Expr::HIGH, |a, b| self.and(a, b))
    }

    /// Or over any number; low for none.
    #[track_caller]
    pub fn any(&mut self, of: impl IntoIterator<Item = Expr>) -> Expr {
        of.into_iter().fold(Expr::LOW, |a, b| self.or(a, b))
    }

    fn opposite(&self, a: Expr, b: Expr) -> bool {
        self.op(a) == Op::Not(b) || self.op(b) == Op::Not(a)
    }

    /// A handle as this circuit made it; nothing if it did not.
    fn own(&self, e: Expr) -> Option<Expr> {
        let mark = *self.marks.get(e.index())?;
        (e.mark() == 0 || e.mark() == mark).then(|| Expr::marked(e.index() as u32, mark))
    }

    /// The same; low for one of another circuit, which is not forgotten.
    #[track_caller]
    fn taken(&mut self, e: Expr) -> Expr {
        match self.own(e) {
            Some(own) => own,
            None => {
                self.foreign.get_or_insert_with(Origin::here);
                Expr::LOW
            }
        }
    }

    fn intern(&mut self, op: Op) -> Expr {
        if let Some(&e) = self.index.get(&op) {
            return e;
        }
        let index = self.ops.len() as u32;
        let mark = if matches!(op, Op::Constant(_)) { 0 } else { self.mark(op, index) };
        let e = Expr::marked(index, mark);
        self.ops.push(op);
        self.marks.push(mark);
        self.index.insert(op, e);
        e
    }

    /// What tells a handle of this circuit at this position, for this operation, from every other; never zero.
    fn mark(&self, op: Op, index: u32) -> u32 {
        let mut hasher = DefaultHasher::new();
        (self.stamp, index, op).hash(&mut hasher);
        // copies that went different ways may have something else at the operands' positions
        match op {
            Op::Constant(_) | Op::Net(_) | Op::Q(_) | Op::QInverted(_) => {}
            Op::Not(a) => a.mark().hash(&mut hasher),
            Op::And(a, b) | Op::Or(a, b) | Op::Xor(a, b) => [a.mark(), b.mark()].hash(&mut hasher),
            Op::Choose(when, a, b) => [when.mark(), a.mark(), b.mark()].hash(&mut hasher),
        }
        (hasher.finish() as u32).max(1)
    }
}
