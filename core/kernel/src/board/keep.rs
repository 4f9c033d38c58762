//! Leaving packages of the original in place: what is then left to replace, as a circuit, and where the two meet.
use std::collections::{BTreeSet, HashSet};

use thiserror::Error;

use super::compose::compose_of;
use super::finding::shown;
use super::library::{Behaviour, PinRole};
use super::nets::{Net, Role, Use};
use super::package::Fitted;
use super::reset;
use super::vocabulary::{Passive, Supply, Wire};
use super::{Board, TraceError};
use crate::circuit::{self, Circuit, Contact, Direction, ElementId, Expr, Label, Landing, NetId, Polarity, Pull, Rail};
use crate::nearest::{did_you_mean, mistyped, nearest};

/// A board of which some packages stay and the rest is to be replaced.
#[derive(Clone, Debug)]
pub struct Remainder {
    /// What the replacement has to do. Its contacts are the board's contacts that it touches, by their labels, and the
    /// nets between it and the kept packages, each by the label of its [`Joint`].
    pub rest: Circuit,
    /// The kept packages with the board's contacts. Whoever replaces the rest is placed in it, on [`nets`](Self::nets).
    pub host: Circuit,
    /// The host's net for each contact of the rest.
    pub nets: Vec<(Label, NetId)>,
    /// The nets that reach a kept package or the rest, with everything that has to be wired together.
    pub joints: Vec<Joint>,
    /// The packages that stay: reference and part.
    pub kept: Vec<(String, String)>,
    /// The packages that are replaced: reference and part.
    pub replaced: Vec<(String, String)>,
    /// The pins of the kept packages that are wired to a rail: supply pins, and inputs that are tied.
    pub supplies: Vec<(String, Label, Rail)>,
    /// Nets of the host that a resistor and a capacitor make late at power-up, with the level at which they begin.
    late: Vec<(NetId, bool)>,
}

impl Remainder {
    /// What the registers, latches and nets of the host are called, in the whole board and beside whatever is placed.
    pub fn names(&self) -> impl Iterator<Item = String> + '_ {
        let elements = self.host.elements().iter().map(|e| e.name.clone());
        elements.chain(self.host.nets().iter().map(|n| n.name.clone()))
    }

    /// The host with a circuit in place of what is replaced, under this reference; `landing` says where its contacts go.
    ///
    /// A net that is late at power-up holds in it what it holds by itself, through the circuit that was placed too: what the
    /// original's gates passed on to a kept package is passed on only if the circuit does it.
    pub fn with(&self, reference: &str, placed: &Circuit, landing: impl FnMut(&Label) -> Landing) -> Circuit {
        let mut joined = self.host.clone();
        joined.place(reference, placed, landing);
        reset::begin(&mut joined, &self.late);
        joined
    }
}

/// A net with the contacts and pins of kept packages on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Joint {
    /// What the net is called in a wiring list: its first contact, or the first pin of a kept package: `U1-11`.
    pub label: Label,
    /// The net's name in the trace.
    pub net: String,
    /// All contacts on it.
    pub contacts: Vec<Label>,
    /// The pins of kept packages on it: reference and pin.
    pub pins: Vec<(String, Label)>,
    /// Whether the rest touches it.
    pub is_rest: bool,
}

/// Why packages can't be kept.
#[derive(Clone, Debug, Error)]
#[non_exhaustive]
pub enum KeepError {
    /// No such package.
    #[error("there is no package {} on the card: {mend}", shown(reference))]
    NoPackage {
        /// What was asked for.
        reference: String,
        /// What would help.
        mend: String,
    },
    /// Nothing is asked for.
    #[error("no package is named: write those that stay, like `U1,U2`")]
    Nothing,
    /// Nothing would be replaced.
    #[error("{0} are all packages of the card: name fewer, or nothing is left to replace")]
    Everything(String),
    /// A resistor holds a net of which only a part would be replaced.
    #[error(
        "{resistor} holds the net {} at an output's level: keep all packages on both nets, or replace them all",
        shown(net)
    )]
    Held {
        /// The resistor.
        resistor: String,
        /// The net.
        net: String,
    },
    /// The card can't be a circuit.
    #[error(transparent)]
    Trace(#[from] TraceError),
}

/// What meets at a net.
struct Meeting {
    contact: bool,
    kept: Vec<Use>,
    rest: Vec<Use>,
}

/// What is looked at beside the packages that are replaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Scope {
    /// A card that is replaced but for some packages: all of it is logic.
    Card,
    /// Some packages of a board of which everything else stays, whatever it is.
    Cluster,
}

impl Board {
    /// The board with these packages left in place.
    ///
    /// # Errors
    /// If one of them isn't there or nothing is left, or the board can't be a circuit.
    pub fn keeping<S: AsRef<str>>(&self, references: &[S]) -> Result<Remainder, KeepError> {
        let mut kept = BTreeSet::new();
        for reference in references {
            kept.insert(self.package_called(reference.as_ref())?);
        }
        if kept.is_empty() {
            return Err(KeepError::Nothing);
        }
        let chips: Vec<usize> = (0..self.packages.len()).filter(|&p| self.is_logic(p)).collect();
        if chips.iter().all(|p| kept.contains(p)) {
            let all: Vec<_> = references.iter().map(|r| r.as_ref().to_owned()).collect();
            return Err(KeepError::Everything(all.join(", ")));
        }
        self.circuit()?;
        self.parted(&kept, Scope::Card)
    }

    /// The board of which these packages alone are replaced, and everything else stays: other packages, contacts, parts
    /// that are no logic. The boundary is found: [`Remainder::rest`] is what the replacement has to do there, and the
    /// original of its proof. What stays need not be logic, nor be traced to its end.
    ///
    /// A pull resistor on a net of the boundary stays too, so it is none of the replacement's.
    ///
    /// # Errors
    /// If one of them isn't there or is no logic of the library, or nothing is named.
    pub fn replacing<S: AsRef<str>>(&self, references: &[S]) -> Result<Remainder, KeepError> {
        let mut replaced = BTreeSet::new();
        for reference in references {
            replaced.insert(self.package_called(reference.as_ref())?);
        }
        if replaced.is_empty() {
            return Err(KeepError::Nothing);
        }
        let kept = (0..self.packages.len()).filter(|p| self.is_logic(*p) && !replaced.contains(p)).collect();
        let mut remainder = self.parted(&kept, Scope::Cluster)?;
        remainder.rest.name = format!("{}: {}", self.name, words(&remainder.replaced));
        Ok(remainder)
    }

    /// What is kept and what is replaced, and where they meet.
    fn parted(&self, kept: &BTreeSet<usize>, scope: Scope) -> Result<Remainder, KeepError> {
        self.holds_are_whole(kept)?;
        let fitted = |p: usize| self.packages.get(p).map(|p| &p.fitted);
        let is_contacts =
            |p: usize| matches!(fitted(p), Some(Fitted::Contacts | Fitted::Stays(_) | Fitted::Passive(_)));
        let host = compose_of(self, |p| kept.contains(&p) || is_contacts(p));
        let mut rest = compose_of(self, |p| !kept.contains(&p) && !is_contacts(p));
        // of a cluster, whoever makes a net late is outside
        let late = match scope {
            Scope::Card => {
                reset::start(self, &mut rest);
                reset::late_nets(self, &host)
            }
            Scope::Cluster => Vec::new(),
        };
        let mut remainder = Remainder {
            rest: rest.circuit,
            host: host.circuit,
            nets: Vec::new(),
            joints: Vec::new(),
            kept: self.named(|p| kept.contains(&p)),
            replaced: self.named(|p| !kept.contains(&p)),
            supplies: self.supply_pins(kept),
            late,
        };
        call_by_nets(&mut remainder.rest);
        remainder.rest.name = format!("{} without {}", self.name, words(&remainder.kept));
        remainder.host.name = format!("{} with {} kept", self.name, words(&remainder.kept));
        let mut meetings: Vec<(usize, Joint)> = Vec::new();
        let mut taken: HashSet<Label> = HashSet::new();
        for (at, net) in self.nets.all().iter().enumerate().filter(|(_, net)| net.supply.is_none()) {
            let meeting = self.meeting(net, kept, scope);
            let touched = meeting.contact || !meeting.kept.is_empty();
            let wanted = match scope {
                Scope::Card => !(meeting.kept.is_empty() && meeting.rest.is_empty()),
                Scope::Cluster => !meeting.rest.is_empty(),
            };
            if touched && wanted {
                let joint = self.joint(net, &meeting, &mut taken);
                meetings.push((at, joint));
            }
        }
        // the board's contacts in their order, then the wires to kept packages
        meetings.sort_by(|(_, a), (_, b)| (a.contacts.is_empty(), &a.label).cmp(&(b.contacts.is_empty(), &b.label)));
        for (at, joint) in &meetings {
            let Some(net) = self.nets.all().get(*at).filter(|_| joint.is_rest) else { continue };
            let (Some(Some(inside)), Some(Some(outside))) = (rest.nets.get(*at), host.nets.get(*at)) else { continue };
            if scope == Scope::Cluster
                && let Some(inner) = remainder.rest.net_mut(*inside)
            {
                inner.pull = Pull::None;
            }
            remainder.rest.add_contact(Contact {
                label: joint.label.clone(),
                name: joint.net.clone(),
                net: *inside,
                polarity: Polarity::Data,
                direction: direction(&self.meeting(net, kept, scope)),
                origin: net.origin.clone(),
            });
            remainder.nets.push((joint.label.clone(), *outside));
        }
        remainder.joints = meetings.into_iter().map(|(_, joint)| joint).collect();
        Ok(remainder)
    }

    /// Nets that a resistor holds, and those that it holds them from, are all kept or all replaced.
    fn holds_are_whole(&self, kept: &BTreeSet<usize>) -> Result<(), KeepError> {
        for net in self.nets.all() {
            let Some(hold) = &net.hold else { continue };
            let uses = net.uses.iter().chain(self.nets.all().get(hold.by).into_iter().flat_map(|by| &by.uses));
            let mut sides = uses.filter(|u| u.role.is_logic()).map(|u| kept.contains(&u.package));
            let first = sides.next();
            if sides.any(|side| Some(side) != first) {
                let resistor = self.packages.get(hold.package).map(|p| p.reference.clone()).unwrap_or_default();
                return Err(KeepError::Held { resistor, net: net.name.clone() });
            }
        }
        Ok(())
    }

    fn is_logic(&self, package: usize) -> bool {
        let chip = self.packages.get(package).and_then(|p| p.chip());
        chip.is_some_and(|part| *part.behaviour() == Behaviour::Logic)
    }

    fn package_called(&self, reference: &str) -> Result<usize, KeepError> {
        let wanted = reference.trim();
        let found = (0..self.packages.len()).find(|&p| {
            self.is_logic(p) && self.packages.get(p).is_some_and(|p| p.reference.eq_ignore_ascii_case(wanted))
        });
        found.ok_or_else(|| {
            let names: Vec<&str> = self.chips().map(|(reference, _)| reference).collect();
            let mend = did_you_mean(&nearest(wanted, names.iter().copied(), mistyped(wanted)))
                .unwrap_or_else(|| format!("its packages are {}", names.join(", ")));
            KeepError::NoPackage { reference: wanted.to_owned(), mend }
        })
    }

    fn named(&self, which: impl Fn(usize) -> bool) -> Vec<(String, String)> {
        let chips = self.packages.iter().enumerate().filter(|(p, _)| self.is_logic(*p) && which(*p));
        chips.filter_map(|(_, p)| Some((p.reference.clone(), p.chip()?.name().to_owned()))).collect()
    }

    fn supply_pins(&self, kept: &BTreeSet<usize>) -> Vec<(String, Label, Rail)> {
        let mut pins = Vec::new();
        for package in kept.iter().filter_map(|&p| self.packages.get(p)) {
            for (label, role) in package.chip().into_iter().flat_map(|part| part.pins()) {
                let tied = || match &package.pin(label)?.wire {
                    Wire::Net(net) => match self.nets.all().get(self.nets.find(net)?)?.supply? {
                        Supply::Vcc => Some(Rail::Vcc),
                        Supply::Gnd => Some(Rail::Gnd),
                        Supply::Higher | Supply::Negative => None,
                    },
                    Wire::Open | Wire::Untraced => None,
                };
                let rail = if let PinRole::Supply(rail) = role { Some(rail) } else { tied() };
                pins.extend(rail.map(|rail| (package.reference.clone(), label.clone(), rail)));
            }
        }
        pins
    }

    fn meeting(&self, net: &Net, kept: &BTreeSet<usize>, scope: Scope) -> Meeting {
        let of = |kept_ones: bool| {
            let pins = net.uses.iter().filter(|u| matches!(u.role, Role::Pin(_)) && self.is_logic(u.package));
            pins.filter(|u| kept.contains(&u.package) == kept_ones).copied().collect()
        };
        let contact = net.has_contact() || net.boundary.is_some();
        let other = scope == Scope::Cluster && (net.untraced.is_some() || self.others_on(net).next().is_some());
        Meeting { contact: contact || other, kept: of(true), rest: of(false) }
    }

    /// The pins on a net that are neither contacts nor logic: what a cluster sees as its outside too.
    fn others_on<'n>(&'n self, net: &'n Net) -> impl Iterator<Item = &'n Use> {
        net.uses.iter().filter(|u| match u.role {
            Role::Contact => false,
            Role::Pin(_) => !self.is_logic(u.package),
            Role::Outside | Role::Unknown => true,
            Role::Passive => self.packages.get(u.package).is_some_and(|p| {
                matches!(&p.fitted, Fitted::Passive(Passive::Foreign(_) | Passive::Capacitor { ignored: false, .. }))
            }),
        })
    }

    fn joint(&self, net: &Net, meeting: &Meeting, taken: &mut HashSet<Label>) -> Joint {
        let pin = |u: &Use| {
            let package = self.packages.get(u.package)?;
            Some((package.reference.clone(), package.pins.get(u.pin)?.label.clone()))
        };
        let pins: Vec<(String, Label)> = meeting.kept.iter().filter_map(pin).collect();
        let contacts = net.uses.iter().filter(|u| u.role == Role::Contact);
        let contacts = contacts.filter_map(pin).map(|(_, label)| label);
        let contacts: Vec<Label> = contacts.chain(net.boundary.clone()).collect();
        let first = pins.first().cloned().or_else(|| self.others_on(net).find_map(pin));
        let first = first.map(|(reference, pin)| Label::new(format!("{reference}-{pin}")));
        let mut label = contacts.first().cloned().or(first).unwrap_or_else(|| Label::new(&net.name));
        while !taken.insert(label.clone()) {
            label = Label::new(format!("{label}'"));
        }
        Joint { label, net: net.name.clone(), contacts, pins, is_rest: !meeting.rest.is_empty() }
    }
}

/// Registers and latches go by the net that shows them, as the trace calls it, where there is one: `U3.state[1]` says
/// nothing to who reads equations.
fn call_by_nets(circuit: &mut Circuit) {
    let elements: Vec<ElementId> = (0..circuit.elements().len()).map(|e| ElementId(e as u32)).collect();
    for element in elements {
        let (q, complement) = (circuit.q(element), circuit.q_inverted(element));
        let shown = |level: Expr| net_of(circuit, level);
        let name = shown(q).or_else(|| Some(format!("complement of {}", shown(complement)?)));
        let is_free = |name: &String| circuit.find_element(name).is_none();
        if let Some(name) = name.filter(is_free)
            && let Some(e) = circuit.element_mut(element)
        {
            e.name = name;
        }
    }
}

/// The trace's net on which a level stands, though it may pass a net inside its part first.
fn net_of(circuit: &Circuit, level: Expr) -> Option<String> {
    let shows = |net: &circuit::Net, what: &dyn Fn(Expr) -> bool| net.drivers.iter().any(|d| what(d.level));
    let direct = |net: &circuit::Net| shows(net, &|l| l == level);
    let through = |net: &circuit::Net| {
        shows(net, &|l| {
            let behind = circuit.op(l).as_net().and_then(|n| circuit.nets().get(n.index()));
            behind.is_some_and(|n| n.value_of.is_some() && direct(n))
        })
    };
    let mut nets = circuit.nets().iter().filter(|net| net.value_of.is_none());
    nets.find(|net| direct(net) || through(net)).map(|net| net.name.clone())
}

/// Which side drives a net that the rest touches.
fn direction(meeting: &Meeting) -> Direction {
    let drives = |uses: &[Use]| uses.iter().any(|u| u.role.stage().is_some());
    let reads = meeting.rest.iter().any(|u| u.role.reads());
    match (drives(&meeting.rest), reads) {
        (false, _) => Direction::Input,
        (true, true) if meeting.contact || drives(&meeting.kept) => Direction::InOut,
        (true, _) => Direction::Output,
    }
}

/// `U1 and U2`.
fn words(packages: &[(String, String)]) -> String {
    let names: Vec<&str> = packages.iter().map(|(reference, _)| reference.as_str()).collect();
    match names.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => String::new(),
    }
}
