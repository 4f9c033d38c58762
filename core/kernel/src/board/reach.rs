//! What a contact of a traced board depends on, pin by pin, and which changes of the trace can bear on it.
use std::collections::{HashMap, HashSet};

use super::Board;
use super::alter::{Alteration, Change, Place};
use super::finding::{Finding, Subject};
use super::library::{Part, PinRole};
use super::nets::{Net, Role};
use super::package::{Fitted, Package};
use super::vocabulary::{Passive, Wire};
use crate::circuit::{Label, Stage};

/// The cone of influence of one contact of a board: the nets and pins on which what it shows hangs, at most.
#[derive(Clone, Debug)]
pub struct Reach<'b> {
    board: &'b Board,
    contact: Label,
    nets: HashSet<usize>,
    /// Pins that something in it reads.
    pins: HashSet<(usize, Label)>,
    /// What bears on what can't be told from wires alone: a capacitor, or something that nobody has traced to its end.
    is_all: bool,
}

/// Where a pin goes from and to.
struct Move<'a> {
    package: usize,
    label: &'a Label,
    role: Option<PinRole>,
    from: Option<&'a Wire>,
    to: &'a Wire,
}

impl Board {
    /// What this contact depends on. A change of the trace that does not touch it leaves what the contact shows as it
    /// is, whatever the other contacts do.
    pub fn reach(&self, contact: &Label) -> Reach<'_> {
        let is_passive = |p: &Package| matches!(p.fitted, Fitted::Passive(Passive::Capacitor { ignored: false, .. }));
        let is_open = self.packages.iter().any(|p| is_passive(p) || p.is_left_out() || !p.waiting().0.is_empty());
        let mut reach = Reach {
            board: self,
            contact: contact.clone(),
            nets: HashSet::new(),
            pins: HashSet::new(),
            is_all: is_open || self.nets.all().iter().any(|net| net.untraced.is_some()),
        };
        let mut read_by = Readers::default();
        let contacts = self.packages.iter().filter(|p| matches!(p.fitted, Fitted::Contacts));
        let wires = contacts.filter_map(|p| p.pin(contact)).map(|pin| &pin.wire);
        let boundary = self.nets.all().iter().position(|net| net.boundary.as_ref() == Some(contact));
        let mut open: Vec<usize> = wires.filter_map(|wire| self.net_of(wire)).chain(boundary).collect();
        while let Some(at) = open.pop() {
            let Some(net) = self.nets.all().get(at).filter(|_| reach.nets.insert(at)) else { continue };
            open.extend(net.hold.as_ref().map(|hold| hold.by));
            for (used, _) in net.drivers() {
                let Some(package) = self.packages.get(used.package) else { continue };
                let (Some(part), Some(pin)) = (package.chip(), package.pins.get(used.pin)) else { continue };
                for label in read_by.of(part, &pin.label) {
                    if reach.pins.insert((used.package, label.clone())) {
                        open.extend(package.pin(label).and_then(|pin| self.net_of(&pin.wire)));
                    }
                }
            }
        }
        reach
    }

    fn net_of(&self, wire: &Wire) -> Option<usize> {
        match wire {
            Wire::Net(name) => self.nets.find(name),
            Wire::Open | Wire::Untraced => None,
        }
    }
}

/// For each driving pin of a type the pins on which it hangs.
#[derive(Default)]
struct Readers(HashMap<(String, Label), Vec<Label>>);

impl Readers {
    fn of(&mut self, part: &Part, pin: &Label) -> &[Label] {
        self.0.entry((part.name().to_owned(), pin.clone())).or_insert_with(|| {
            let circuit = part.circuit();
            let nets = circuit.contacts().iter().filter(|c| c.label == *pin).map(|c| c.net);
            let cone = circuit.cone(nets, |_| true);
            circuit.contacts().iter().filter(|c| cone.contains(c.net)).map(|c| c.label.clone()).collect()
        })
    }
}

impl Reach<'_> {
    /// Whether this change of the trace can bear on what the contact shows. What is not touched shows the same after the
    /// change, in every run; what is touched may do so too.
    pub fn is_touched_by(&self, alteration: &Alteration) -> bool {
        self.is_all
            || match &alteration.change {
                Change::Wires(wires) => wires.iter().any(|(place, to)| self.moved(*place, to)),
                Change::Join(from, to) => {
                    let both = [from, to].map(|name| self.board.nets.find(name));
                    let Some(net) = both[0].and_then(|at| self.board.nets.all().get(at)) else { return true };
                    let to = Wire::Net(to.clone());
                    let is_passive = net.uses.iter().any(|u| matches!(u.role, Role::Passive | Role::Outside));
                    // it is a net of its own no longer: its name may be another one's
                    (is_passive && both.iter().flatten().any(|at| self.nets.contains(at)))
                        || net.uses.iter().any(|u| self.moved((u.package, u.pin), &to))
                }
                Change::Part(package, _) => {
                    let pins = self.board.packages.get(*package).map_or(&[][..], |p| &p.pins);
                    self.pins.iter().any(|(at, _)| at == package)
                        || pins
                            .iter()
                            .filter_map(|pin| self.board.net_of(&pin.wire))
                            .any(|net| self.nets.contains(&net))
                }
                Change::Pin(package, label, net) => {
                    let role = self.board.packages.get(*package).and_then(|p| p.chip()?.pin(label));
                    let to = Wire::Net(net.clone());
                    self.touched(&Move { package: *package, label, role, from: None, to: &to })
                }
            }
    }

    /// Whether a finding of the trace names a net on which the contact hangs, a pin of one, or a pin that something on the way
    /// reads.
    pub fn is_about(&self, finding: &Finding) -> bool {
        finding.about.iter().any(|subject| match subject {
            Subject::Net(name) => self.board.nets.find(name).is_some_and(|net| self.nets.contains(&net)),
            Subject::Pin { reference, pin } => {
                let Some(at) = self.board.packages.iter().position(|p| p.reference == *reference) else { return false };
                let wire = self.board.packages.get(at).and_then(|p| p.pin(pin)).map(|pin| &pin.wire);
                self.pins.contains(&(at, pin.clone()))
                    || wire.and_then(|wire| self.board.net_of(wire)).is_some_and(|net| self.nets.contains(&net))
            }
            Subject::Contact(label) => *label == self.contact,
            Subject::Package(_) => false,
        })
    }

    fn moved(&self, (package, pin): Place, to: &Wire) -> bool {
        let Some(of) = self.board.packages.get(package) else { return true };
        let Some(pin) = of.pins.get(pin) else { return true };
        let role = of.chip().and_then(|part| part.pin(&pin.label));
        if matches!(of.fitted, Fitted::Contacts) && pin.label == self.contact {
            return true;
        }
        self.touched(&Move { package, label: &pin.label, role, from: Some(&pin.wire), to })
    }

    fn touched(&self, pin: &Move<'_>) -> bool {
        let all = self.board.nets.all();
        let ends = [pin.from, Some(pin.to)].into_iter().flatten().filter_map(|wire| self.board.net_of(wire));
        let ends: Vec<usize> = ends.collect();
        let mut nets = ends.iter().filter_map(|&at| all.get(at));
        let mut within = ends.iter().filter(|at| self.nets.contains(at)).filter_map(|&at| all.get(at));
        // what a resistor does to its nets depends on all that is on them
        if nets.any(|net| net.supply.is_none() && net.uses.iter().any(|u| u.role == Role::Passive)) {
            return true;
        }
        let is_read = self.pins.contains(&(pin.package, pin.label.clone()));
        match pin.role {
            // one reader more or less: it counts where what is read when nobody drives may count
            Some(PinRole::Input) => is_read || within.any(|net| !is_held(net)),
            _ => is_read || within.next().is_some(),
        }
    }
}

/// Whether something drives it always.
fn is_held(net: &Net) -> bool {
    net.uses.iter().any(|u| u.role == Role::Pin(PinRole::Output(Stage::PushPull)))
}
