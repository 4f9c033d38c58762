//! Single changes of a trace: what a slip on the bench would have made of it. Each is tried as a trace of its own.
use std::collections::{HashMap, HashSet};

use super::finding::{FindingKind, Findings, Subject};
use super::library::{Library, Part, PinRole};
use super::package::{Fitted, Package};
use super::sheet::Row;
use super::vocabulary::{Wire, pin_label, supply};
use super::{Board, assemble};
use crate::circuit::Origin;

/// One change of a trace.
#[derive(Clone, Debug)]
pub struct Alteration {
    /// In words, as it reads after it was made.
    pub words: String,
    /// The row that it changes, or the first of them.
    pub origin: Origin,
    /// What kind of slip it is, in words.
    pub kind: &'static str,
    change: Change,
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

#[derive(Clone, Debug)]
enum Change {
    /// These rows get these nets.
    Nets(Vec<(usize, String)>),
    /// The rows of the first net are of the second.
    Join(String, String),
    /// A reference has another type.
    Part(String, Part),
    /// A pin that has no row gets one like this of its package, and this net.
    Row(usize, String, String),
}

/// Findings that name a pin or a net where a slip may lie.
const STRANGE: [FindingKind; 7] = [
    FindingKind::NoDriver,
    FindingKind::FloatingInput,
    FindingKind::MixedDrivers,
    FindingKind::ShortedOutput,
    FindingKind::MissingPullUp,
    FindingKind::PullUndecided,
    FindingKind::SinglePin,
];

/// Where a slip may lie.
#[derive(Default)]
struct Suspects {
    rows: HashSet<usize>,
    nets: HashSet<String>,
}

impl Change {
    fn touches(&self, rows: &[Row], suspects: &Suspects) -> bool {
        let at =
            |k: usize| suspects.rows.contains(&k) || rows.get(k).is_some_and(|row| suspects.nets.contains(&row.net));
        match self {
            Change::Nets(nets) => nets.iter().any(|(k, net)| at(*k) || suspects.nets.contains(net)),
            Change::Join(a, b) => suspects.nets.contains(a) || suspects.nets.contains(b),
            Change::Part(reference, _) => rows.iter().enumerate().any(|(k, row)| row.reference == *reference && at(k)),
            Change::Row(_, _, net) => suspects.nets.contains(net),
        }
    }
}

impl Board {
    /// The rows of the trace, as its packages keep them.
    pub(super) fn rows(&self) -> Vec<Row> {
        let text = |wire: &Wire| match wire {
            Wire::Net(name) => name.clone(),
            Wire::Open => "open".to_owned(),
            Wire::Untraced => "untraced".to_owned(),
        };
        let row = |p: &Package, pin: &str, wire: &Wire, origin: &Origin| Row {
            reference: p.reference.clone(),
            part: match p.fitted {
                // whatever made it stay
                Fitted::Stays(_) => format!("stays {}", p.part),
                _ => p.part.clone(),
            },
            pin: pin.to_owned(),
            net: text(wire),
            origin: origin.clone(),
        };
        let mut rows = Vec::new();
        for p in &self.packages {
            rows.extend(p.pins.iter().map(|pin| row(p, pin.label.as_str(), &pin.wire, &pin.origin)));
            rows.extend(p.others.iter().map(|(wire, origin)| row(p, "others", wire, origin)));
        }
        rows
    }

    /// Every single change that a slip explains, the likelier ones first: pins or contacts exchanged, a neighbouring type, a
    /// pin that is on no net, nets that are one, a pin that is on another net, a pin without a row that is on one. Among
    /// these, what a finding of the trace names comes first.
    pub fn alterations(&self) -> Vec<Alteration> {
        let rows = self.rows();
        let mut all = Vec::new();
        self.exchanges(&rows, &mut all);
        self.neighbour_types(&mut all);
        self.detached(&rows, &mut all);
        self.joins(&mut all);
        self.moves(&rows, &mut all);
        self.without_rows(&rows, &mut all);
        let suspects = self.suspects(&rows);
        for alike in all.chunk_by_mut(|a, b| a.kind == b.kind) {
            alike.sort_by_key(|a| !a.change.touches(&rows, &suspects));
        }
        all
    }

    /// What a check of the trace found strange: nets, and single pins by their rows.
    fn suspects(&self, rows: &[Row]) -> Suspects {
        let mut suspects = Suspects::default();
        for subject in self.findings.iter().filter(|f| STRANGE.contains(&f.kind)).flat_map(|f| &f.about) {
            match subject {
                Subject::Net(name) => {
                    suspects.nets.insert(name.clone());
                }
                Subject::Pin { reference, pin } => {
                    let is_it = |row: &Row| row.reference == *reference && pin_label(&row.pin) == *pin;
                    suspects.rows.extend(rows.iter().enumerate().filter(|(_, row)| is_it(row)).map(|(at, _)| at));
                }
                Subject::Package(_) | Subject::Contact(_) => {}
            }
        }
        suspects
    }

    /// The trace with this change; nothing if it would have errors that this one has not.
    pub fn altered(&self, alteration: &Alteration) -> Option<Board> {
        let mut rows = self.rows();
        let mut other = None;
        match &alteration.change {
            Change::Nets(nets) => {
                for (at, net) in nets {
                    rows.get_mut(*at)?.net.clone_from(net);
                }
            }
            Change::Join(from, to) => {
                for row in rows.iter_mut().filter(|r| r.net == *from) {
                    row.net.clone_from(to);
                }
            }
            Change::Part(reference, part) => {
                for row in rows.iter_mut().filter(|r| r.reference == *reference) {
                    part.name().clone_into(&mut row.part);
                }
                other = Some(part.clone());
            }
            Change::Row(like, pin, net) => {
                let row = rows.get(*like)?.clone();
                rows.push(Row { pin: pin.clone(), net: net.clone(), ..row });
            }
        }
        let drawer = Drawer::of(self, other);
        assemble::board(self.name.clone(), self.trace.clone(), rows, &drawer, &self.reading, Findings::default()).ok()
    }

    fn exchanges(&self, rows: &[Row], all: &mut Vec<Alteration>) {
        for p in &self.packages {
            let of: Vec<(usize, &Row, u8)> = rows
                .iter()
                .enumerate()
                .filter(|(_, r)| r.reference == p.reference)
                .filter_map(|(at, r)| Some((at, r, class(p, r)?)))
                .collect();
            for (k, &(i, a, of_a)) in of.iter().enumerate() {
                for &(j, b, of_b) in of.get(k + 1..).unwrap_or_default() {
                    if of_a != of_b || a.net == b.net {
                        continue;
                    }
                    let words = match p.fitted {
                        Fitted::Contacts => format!("contacts {} and {} of the trace are exchanged", a.pin, b.pin),
                        _ => format!("pins {} and {} of {} are exchanged", a.pin, b.pin, p.called()),
                    };
                    let change = Change::Nets(vec![(i, b.net.clone()), (j, a.net.clone())]);
                    all.push(Alteration { words, origin: a.origin.clone(), kind: kinds::EXCHANGED, change });
                }
            }
        }
    }

    fn neighbour_types(&self, all: &mut Vec<Alteration>) {
        for p in &self.packages {
            let Some(part) = p.chip() else { continue };
            for other in self.neighbours.of_type(part) {
                let words = format!("{} is a {} instead of a {}", p.reference, other.name(), part.name());
                let change = Change::Part(p.reference.clone(), other.clone());
                all.push(Alteration { words, origin: p.origin.clone(), kind: kinds::NEIGHBOUR, change });
            }
        }
    }

    fn detached(&self, rows: &[Row], all: &mut Vec<Alteration>) {
        for (at, row) in rows.iter().enumerate() {
            let Some(p) = self.packages.iter().find(|p| p.reference == row.reference) else { continue };
            if p.chip().is_some() && class(p, row).is_some() && row.net != "open" {
                let words = format!("{} pin {} is not on the net `{}`, but open", p.reference, row.pin, row.net);
                let change = Change::Nets(vec![(at, "open".to_owned())]);
                all.push(Alteration { words, origin: row.origin.clone(), kind: kinds::OPEN, change });
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
    fn without_rows(&self, rows: &[Row], all: &mut Vec<Alteration>) {
        for p in self.packages.iter().filter(|p| p.others.is_none()) {
            let Some(part) = p.chip() else { continue };
            let Some(like) = rows.iter().position(|r| r.reference == p.reference) else { continue };
            for (pin, role) in part.pins() {
                let has_row = p.pins.iter().any(|known| known.label == *pin);
                if has_row || !matches!(role, PinRole::Input | PinRole::Output(_) | PinRole::InOut(_)) {
                    continue;
                }
                for net in named_nets(rows) {
                    let words = format!("{} pin {pin}, which has no row, is on the net `{net}`", p.reference);
                    let change = Change::Row(like, pin.to_string(), net.to_owned());
                    all.push(Alteration { words, origin: p.origin.clone(), kind: kinds::NO_ROW, change });
                }
            }
        }
    }

    /// An input is on another net.
    fn moves(&self, rows: &[Row], all: &mut Vec<Alteration>) {
        let nets = named_nets(rows);
        for (at, row) in rows.iter().enumerate() {
            let Some(p) = self.packages.iter().find(|p| p.reference == row.reference) else { continue };
            if p.chip().is_none() || class(p, row) != Some(0) {
                continue;
            }
            for &net in nets.iter().filter(|&&n| n != row.net) {
                let words = format!("{} pin {} is on the net `{net}` instead of `{}`", p.reference, row.pin, row.net);
                let change = Change::Nets(vec![(at, net.to_owned())]);
                all.push(Alteration { words, origin: row.origin.clone(), kind: kinds::MOVED, change });
            }
        }
    }
}

fn is_net(name: &str) -> bool {
    name != "open" && name != "untraced"
}

/// The nets of the rows, each once.
fn named_nets(rows: &[Row]) -> Vec<&str> {
    let mut seen = HashSet::new();
    let nets = rows.iter().map(|r| r.net.as_str()).filter(|n| is_net(n));
    nets.filter(|n| seen.insert(*n)).collect()
}

/// What a row's pin may be exchanged with: 0 inputs, 1 outputs, 2 contacts. Supply pins and resistors have no slips here.
fn class(p: &Package, row: &Row) -> Option<u8> {
    match &p.fitted {
        Fitted::Contacts => supply(&row.net).is_none().then_some(2),
        Fitted::Chip(part) => match part.pin(&pin_label(&row.pin))? {
            PinRole::Input => Some(0),
            PinRole::Output(_) | PinRole::InOut(_) => Some(1),
            PinRole::Supply(_) | PinRole::Unconnected | PinRole::Analog => None,
        },
        _ => None,
    }
}

/// The parts of a board, and one that takes the place of another.
pub(super) struct Drawer {
    own: HashMap<String, Part>,
    other: Option<Part>,
}

impl Drawer {
    pub(super) fn of(board: &Board, other: Option<Part>) -> Drawer {
        let own = board.packages.iter().filter_map(|p| Some((p.part.to_uppercase(), Part::clone(p.chip()?))));
        Drawer { own: own.collect(), other }
    }
}

impl Library for Drawer {
    fn part(&self, type_number: &str) -> Option<Part> {
        let own = self.own.get(&type_number.to_uppercase()).cloned();
        own.or_else(|| self.other.clone().filter(|p| p.name().eq_ignore_ascii_case(type_number)))
    }

    fn names(&self) -> Vec<String> {
        self.own.keys().cloned().collect()
    }
}
