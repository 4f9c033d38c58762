//! Single changes of a trace: what a slip on the bench would have made of it. Each is a board of its own.
use std::collections::HashSet;

use super::finding::{FindingKind, Findings};
use super::library::{Lasting, Part, PinRole};
use super::neighbours::Neighbours;
use super::nets::Nets;
use super::package::{Fitted, Package, Pin};
use super::suspicion::Suspicion;
use super::vocabulary::{Wire, supply};
use super::{Board, check, compose};
use crate::circuit::{Circuit, Label, Origin};

/// One change of a trace. It is meant for the board that listed it.
#[derive(Clone, Debug)]
pub struct Alteration {
    /// In words, as it reads after it was made.
    pub words: String,
    /// The row that it changes, or the first of them.
    pub origin: Origin,
    /// What kind of slip it is, in words.
    pub kind: &'static str,
    pub(super) change: Change,
}

/// The kinds of slips.
mod kinds {
    pub(super) const EXCHANGED: &str = "two pins or contacts exchanged";
    pub(super) const NEIGHBOUR: &str = "another type with the same pins";
    pub(super) const OPEN: &str = "a pin that is on no net";
    pub(super) const JOINED: &str = "two nets that are one";
    pub(super) const MOVED: &str = "an input on another net";
    pub(super) const NO_ROW: &str = "a pin without a row that is on a net";
}

/// A pin that has a row: positions of the package and of its pin.
pub(super) type Place = (usize, usize);

#[derive(Clone, Debug)]
pub(super) enum Change {
    /// These pins get these wires.
    Wires(Vec<(Place, Wire)>),
    /// The rows of the first net are of the second; both by their names in the sheet.
    Join(String, String),
    /// A package has another type.
    Part(usize, Part),
    /// A package's pin that has no row is on this net.
    Pin(usize, Label, String),
}

impl Board {
    /// Every single change that a slip explains, the likelier ones first: pins or contacts exchanged, a neighbouring type, a
    /// pin that is on no net, nets that are one, a pin that is on another net, a pin without a row that is on one. Among
    /// these, what a finding of the trace names comes first; and before all a pin without a row that a finding names.
    pub fn alterations(&self) -> Vec<Alteration> {
        let mut all = Vec::new();
        self.exchanges(&mut all);
        self.neighbour_types(&mut all);
        self.detached(&mut all);
        self.joins(&mut all);
        self.moves(&mut all);
        self.without_rows(&mut all);
        let suspects = self.suspects();
        for alike in all.chunk_by_mut(|a, b| a.kind == b.kind) {
            alike.sort_by_cached_key(|a| self.suspicion(&a.change, &suspects));
        }
        all.sort_by_cached_key(|a| self.suspicion(&a.change, &suspects) != Suspicion::Named);
        all
    }

    pub(super) fn pin_at(&self, (package, pin): Place) -> Option<&Pin> {
        self.packages.get(package)?.pins.get(pin)
    }

    /// The trace with this change; nothing if it would have errors that this one has not.
    pub fn altered(&self, alteration: &Alteration) -> Option<Board> {
        let mut findings = Findings::default();
        let mut board = self.changed(alteration, &mut findings)?;
        check::all(&board, &mut findings);
        if findings.has_errors() {
            return None;
        }
        board.findings = findings.into_sorted();
        Some(board)
    }

    /// The circuit of the trace with this change, which is not checked: what [`altered`](Board::altered) gives is its circuit
    /// too. Nothing if it holds a part that settled logic can't stand for.
    pub fn altered_circuit(&self, alteration: &Alteration) -> Option<Circuit> {
        let board = self.changed(alteration, &mut Findings::default())?;
        let is_refused = check::refusals(&board).iter().any(|f| f.kind == FindingKind::NotLogic);
        (!is_refused).then(|| compose::compose(&board).circuit)
    }

    /// The packages with this change, and their nets anew; nothing is checked.
    fn changed(&self, alteration: &Alteration, findings: &mut Findings) -> Option<Board> {
        let mut packages = self.packages.clone();
        match &alteration.change {
            Change::Wires(wires) => {
                for ((p, k), wire) in wires {
                    packages.get_mut(*p)?.pins.get_mut(*k)?.wire.clone_from(wire);
                }
            }
            Change::Join(from, to) => {
                let is_from = |wire: &Wire| matches!(wire, Wire::Net(name) if name == from);
                for pin in packages.iter_mut().flat_map(|p| &mut p.pins).filter(|pin| is_from(&pin.wire)) {
                    pin.wire = Wire::Net(to.clone());
                }
            }
            Change::Part(p, part) => {
                let package = packages.get_mut(*p)?;
                part.name().clone_into(&mut package.part);
                package.fitted = Fitted::Chip(part.clone().into());
            }
            Change::Pin(p, label, net) => {
                let package = packages.get_mut(*p)?;
                let (label, origin) = (label.clone(), package.origin.clone());
                package.index.insert(label.clone(), package.pins.len());
                package.pins.push(Pin { label, wire: Wire::Net(net.clone()), origin });
            }
        }
        let nets = Nets::new(&packages, &self.untraced_nets, findings);
        Some(Board {
            name: self.name.clone(),
            trace: self.trace.clone(),
            text: None,
            packages,
            untraced_nets: self.untraced_nets.clone(),
            nets,
            findings: Vec::new(),
            neighbours: Neighbours::default(),
            lasting: Lasting::default(),
            reading: self.reading.clone(),
        })
    }

    fn exchanges(&self, all: &mut Vec<Alteration>) {
        for (p, package) in self.packages.iter().enumerate() {
            let of: Vec<(usize, &Pin, u8)> =
                package.pins.iter().enumerate().filter_map(|(k, pin)| Some((k, pin, class(package, pin)?))).collect();
            for (n, &(i, a, of_a)) in of.iter().enumerate() {
                for &(j, b, of_b) in of.get(n + 1..).unwrap_or_default() {
                    if of_a != of_b || a.wire == b.wire {
                        continue;
                    }
                    let words = match package.fitted {
                        Fitted::Contacts => format!("contacts {} and {} of the trace are exchanged", a.label, b.label),
                        _ => format!("pins {} and {} of {} are exchanged", a.label, b.label, package.called()),
                    };
                    let change = Change::Wires(vec![((p, i), b.wire.clone()), ((p, j), a.wire.clone())]);
                    all.push(Alteration { words, origin: a.origin.clone(), kind: kinds::EXCHANGED, change });
                }
            }
        }
    }

    fn neighbour_types(&self, all: &mut Vec<Alteration>) {
        for (at, p) in self.packages.iter().enumerate() {
            let Some(part) = p.chip() else { continue };
            for other in self.neighbours.of_type(part) {
                let words = format!("{} is a {} instead of a {}", p.reference, other.name(), part.name());
                let change = Change::Part(at, other.clone());
                all.push(Alteration { words, origin: p.origin.clone(), kind: kinds::NEIGHBOUR, change });
            }
        }
    }

    fn detached(&self, all: &mut Vec<Alteration>) {
        for (p, package) in self.packages.iter().enumerate().filter(|(_, p)| p.chip().is_some()) {
            for (k, pin) in package.pins.iter().enumerate().filter(|(_, pin)| class(package, pin).is_some()) {
                if pin.wire == Wire::Open {
                    continue;
                }
                let on = written(&pin.wire);
                let words = format!("{} pin {} is not on the net `{on}`, but open", package.reference, pin.label);
                let change = Change::Wires(vec![((p, k), Wire::Open)]);
                all.push(Alteration { words, origin: pin.origin.clone(), kind: kinds::OPEN, change });
            }
        }
    }

    /// A net that nothing drives is a part of another.
    fn joins(&self, all: &mut Vec<Alteration>) {
        let nets: Vec<_> = self.nets.all().iter().filter(|n| n.supply.is_none()).collect();
        for a in &nets {
            let alone = a.drivers().next().is_none() && a.uses.len() <= 4;
            for b in nets.iter().filter(|b| alone && b.name != a.name) {
                let words = format!("the nets `{}` and `{}` of the trace are one", a.name, b.name);
                let change = Change::Join(a.name.clone(), b.name.clone());
                all.push(Alteration { words, origin: a.origin.clone(), kind: kinds::JOINED, change });
            }
        }
    }

    /// A chip's pin that the trace says nothing about is on a net.
    fn without_rows(&self, all: &mut Vec<Alteration>) {
        let nets = self.named_nets();
        for (at, p) in self.packages.iter().enumerate().filter(|(_, p)| p.others.is_none()) {
            for (label, role) in p.pins_without_row() {
                if !matches!(role, PinRole::Input | PinRole::Output(_) | PinRole::InOut(_)) {
                    continue;
                }
                for &net in &nets {
                    let words = format!("{} pin {label}, which has no row, is on the net `{net}`", p.reference);
                    let change = Change::Pin(at, label.clone(), net.to_owned());
                    all.push(Alteration { words, origin: p.origin.clone(), kind: kinds::NO_ROW, change });
                }
            }
        }
    }

    /// An input is on another net.
    fn moves(&self, all: &mut Vec<Alteration>) {
        let nets = self.named_nets();
        for (p, package) in self.packages.iter().enumerate().filter(|(_, p)| p.chip().is_some()) {
            for (k, pin) in package.pins.iter().enumerate().filter(|(_, pin)| class(package, pin) == Some(0)) {
                let on = written(&pin.wire);
                for &net in nets.iter().filter(|&&n| n != on) {
                    let words =
                        format!("{} pin {} is on the net `{net}` instead of `{on}`", package.reference, pin.label);
                    let change = Change::Wires(vec![((p, k), Wire::Net(net.to_owned()))]);
                    all.push(Alteration { words, origin: pin.origin.clone(), kind: kinds::MOVED, change });
                }
            }
        }
    }

    /// The nets of the rows, each once.
    fn named_nets(&self) -> Vec<&str> {
        let mut seen = HashSet::new();
        let nets = self.packages.iter().flat_map(|p| &p.pins).filter_map(|pin| match &pin.wire {
            Wire::Net(name) => Some(name.as_str()),
            Wire::Open | Wire::Untraced => None,
        });
        nets.filter(|n| seen.insert(*n)).collect()
    }
}

/// A wire as a row has it.
pub(super) fn written(wire: &Wire) -> &str {
    match wire {
        Wire::Net(name) => name,
        Wire::Open => "open",
        Wire::Untraced => "untraced",
    }
}

/// What a pin may be exchanged with: 0 inputs, 1 outputs, 2 contacts. Supply pins and resistors have no slips here.
fn class(p: &Package, pin: &Pin) -> Option<u8> {
    match &p.fitted {
        Fitted::Contacts => supply(written(&pin.wire)).is_none().then_some(2),
        Fitted::Chip(part) => match part.pin(&pin.label)? {
            PinRole::Input => Some(0),
            PinRole::Output(_) | PinRole::InOut(_) => Some(1),
            PinRole::Supply(_) | PinRole::Unconnected | PinRole::Analog => None,
        },
        _ => None,
    }
}
