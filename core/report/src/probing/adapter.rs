//! The adapter under test: its nets and pins, what a person finds on each, and the single faults of its wires.
use std::collections::BTreeMap;

use super::bench::Bench;
use gluewright_devices::emit::Wire;
use gluewright_kernel::circuit::{Circuit, Direction, Label, Rail};
use gluewright_kernel::machine::Machine;
use gluewright_kernel::machine::ternary::Ternary;

/// An adapter with the packages on it.
#[derive(Clone, Debug)]
pub struct Wiring<'a> {
    /// Every wire, supplies included.
    pub wires: &'a [Wire],
    /// The packages, what each does at its pins.
    pub packages: Vec<(String, Circuit)>,
    /// All of them in the socket as one circuit, with a contact on each wire that has none.
    pub probed: &'a Circuit,
    /// The contacts on which the board has its supply rails.
    pub supplies: Vec<(Label, Rail)>,
}

/// A pin of a package that has a wire.
#[derive(Clone, Debug)]
pub(super) struct Pin {
    pub(super) package: usize,
    /// Its port in the package's machine; a supply pin has none.
    pub(super) port: Option<usize>,
    pub(super) label: Label,
    pub(super) net: usize,
    /// Whether the package may drive it.
    pub(super) drives: bool,
}

/// Contacts and pins that are wired together.
#[derive(Clone, Debug, Default)]
pub(super) struct Net {
    pub(super) labels: Vec<Label>,
    pub(super) rail: Option<bool>,
    /// Its port in the machine of the whole.
    pub(super) port: Option<usize>,
    /// Whether it has a contact of the socket; else it is a wire between packages.
    pub(super) is_contact: bool,
}

/// What somebody with a meter finds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    High,
    Low,
    Floats,
}

/// What is on a net: whether the card drives it, the level, and what the person at the bench puts on it.
#[derive(Clone, Copy, Debug)]
pub(super) struct On {
    pub(super) driven: Ternary,
    pub(super) level: Ternary,
    pub(super) applied: Option<bool>,
}

impl On {
    pub(super) fn found(self) -> Option<Found> {
        let of = |high: bool| if high { Found::High } else { Found::Low };
        match self.driven.known()? {
            true => self.level.known().map(of),
            false => Some(self.applied.map_or(Found::Floats, of)),
        }
    }

    /// What a pin reads there.
    pub(super) fn read(self) -> Ternary {
        match self.driven {
            Ternary::High => self.level,
            Ternary::Low => self.applied.map_or(Ternary::Either, Ternary::of),
            Ternary::Either => Ternary::Either,
        }
    }
}

/// A single fault of an adapter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// The wire to this pin is open.
    OpenPin(usize),
    /// The wire from the contact of this net to all its pins is open.
    OpenContact(usize),
    /// These nets are shorted, at these neighbours.
    Short(usize, usize, [Place; 2]),
    /// The wires of these pins are exchanged.
    Exchange(usize, usize),
}

/// Where a short is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Pin(usize),
    /// A contact: net, and which of its labels.
    Contact(usize, usize),
}

/// The adapter, with a machine for each package.
pub(super) struct Bare {
    pub(super) pins: Vec<Pin>,
    pub(super) nets: Vec<Net>,
    pub(super) packages: Vec<(String, Machine)>,
    pub(super) whole: Machine,
    signals: BTreeMap<Label, String>,
}

impl Bare {
    pub(super) fn new(wiring: &Wiring<'_>, is_contact: impl Fn(&Label) -> bool) -> Bare {
        let packages: Vec<(String, Machine)> =
            wiring.packages.iter().map(|(of, circuit)| (of.clone(), Machine::new(circuit))).collect();
        let whole = Machine::new(wiring.probed);
        let mut nets: Vec<Net> = Vec::new();
        let mut pins: Vec<Pin> = Vec::new();
        let mut signals = BTreeMap::new();
        for wire in wiring.wires {
            signals.entry(wire.contact.clone()).or_insert_with(|| wire.signal.clone());
            let Some(package) = packages.iter().position(|(of, _)| *of == wire.device) else { continue };
            let known = pins.iter().find(|p| p.package == package && p.label == wire.pin).map(|p| p.net);
            let labelled = nets.iter().position(|n| n.labels.contains(&wire.contact));
            let net = match (known, labelled) {
                (Some(a), Some(b)) if a != b => {
                    let labels = nets.get_mut(b).map(|n| std::mem::take(&mut n.labels)).unwrap_or_default();
                    nets.get_mut(a).into_iter().for_each(|n| n.labels.extend(labels.iter().cloned()));
                    pins.iter_mut().filter(|p| p.net == b).for_each(|p| p.net = a);
                    a
                }
                (Some(net), Some(_)) => net,
                (Some(net), None) => {
                    nets.get_mut(net).into_iter().for_each(|n| n.labels.push(wire.contact.clone()));
                    net
                }
                (None, Some(net)) => net,
                (None, None) => {
                    nets.push(Net { labels: vec![wire.contact.clone()], ..Net::default() });
                    nets.len() - 1
                }
            };
            if known.is_none() {
                let port = packages.get(package).and_then(|(_, m)| m.port(&wire.pin));
                let circuit = wiring.packages.get(package).map(|(_, circuit)| circuit);
                let contact = circuit.and_then(|c| c.contacts().iter().find(|c| c.label == wire.pin));
                let drives = contact.is_some_and(|c| c.direction != Direction::Input);
                pins.push(Pin { package, port, label: wire.pin.clone(), net, drives });
            }
        }
        for net in &mut nets {
            let rail = |label: &Label| wiring.supplies.iter().find(|(l, _)| l == label).map(|(_, r)| *r == Rail::Vcc);
            net.rail = net.labels.iter().find_map(rail);
            net.port = net.labels.iter().find_map(|label| whole.port(label));
            net.is_contact = net.rail.is_some() || net.labels.iter().any(&is_contact);
        }
        Bare { pins, nets, packages, whole, signals }
    }

    /// What is on a net while the whole stands so.
    pub(super) fn on(&self, net: usize, whole: &Bench<'_>) -> On {
        let Some(n) = self.nets.get(net) else {
            return On { driven: Ternary::Either, level: Ternary::Either, applied: None };
        };
        if let Some(high) = n.rail {
            return On { driven: Ternary::High, level: Ternary::of(high), applied: None };
        }
        let Some(port) = n.port else {
            return On { driven: Ternary::Either, level: Ternary::Either, applied: None };
        };
        let (driven, level) = whole.shown(port);
        On { driven, level, applied: whole.applied(port).filter(|_| n.is_contact) }
    }

    /// Every single fault: opens, shorts of neighbours, exchanges of two wires.
    pub(super) fn faults(&self) -> Vec<Fault> {
        let mut all = Vec::new();
        let on = |net: usize| self.pins.iter().filter(move |p| p.net == net).count();
        let is_signal = |p: &Pin| p.port.is_some() && self.nets.get(p.net).is_some_and(|n| n.rail.is_none());
        let signal: Vec<usize> = (0..self.pins.len()).filter(|&p| self.pins.get(p).is_some_and(is_signal)).collect();
        all.extend(signal.iter().map(|&p| Fault::OpenPin(p)));
        for (n, net) in self.nets.iter().enumerate() {
            if net.is_contact && net.rail.is_none() && on(n) > 1 {
                all.push(Fault::OpenContact(n));
            }
        }
        let number = |label: &Label| label.as_str().parse::<u32>().ok();
        for (i, a) in self.pins.iter().enumerate() {
            for (j, b) in self.pins.iter().enumerate() {
                let next = number(&a.label).zip(number(&b.label)).is_some_and(|(a, b)| a + 1 == b);
                if a.package == b.package && next && a.net != b.net {
                    all.push(Fault::Short(a.net, b.net, [Place::Pin(i), Place::Pin(j)]));
                }
            }
        }
        let contacts: Vec<(usize, usize, u32)> = self
            .nets
            .iter()
            .enumerate()
            .filter(|(_, net)| net.is_contact)
            .flat_map(|(n, net)| net.labels.iter().enumerate().filter_map(move |(k, l)| Some((n, k, number(l)?))))
            .collect();
        for &(n, k, a) in &contacts {
            let next = contacts.iter().filter(|(m, _, b)| *b == a + 1 && *m != n);
            all.extend(next.map(|&(m, l, _)| Fault::Short(n, m, [Place::Contact(n, k), Place::Contact(m, l)])));
        }
        for (i, &p) in signal.iter().enumerate() {
            for &q in signal.iter().skip(i + 1) {
                if self.net_of(p) != self.net_of(q) {
                    all.push(Fault::Exchange(p, q));
                }
            }
        }
        all
    }

    pub(super) fn net_of(&self, pin: usize) -> usize {
        self.pins.get(pin).map_or(usize::MAX, |p| p.net)
    }

    fn pin_words(&self, pin: usize) -> String {
        let Some(pin) = self.pins.get(pin) else { return String::new() };
        let package = self.packages.get(pin.package).map_or("", |(of, _)| of.as_str());
        format!("{package} pin {}", pin.label)
    }

    /// The pins on a net, in words.
    pub(super) fn pins_words(&self, net: usize) -> String {
        let pins = (0..self.pins.len()).filter(|&p| self.net_of(p) == net);
        pins.map(|p| self.pin_words(p)).collect::<Vec<_>>().join(", ")
    }

    /// A net in words.
    pub(super) fn net_words(&self, net: usize) -> String {
        let Some(n) = self.nets.get(net) else { return String::new() };
        let label = n.labels.first().cloned();
        let signal = label.as_ref().and_then(|l| self.signals.get(l)).map_or("", String::as_str);
        let label = label.map_or_else(String::new, |l| l.to_string());
        if n.is_contact { format!("contact {label} {signal}") } else { format!("wire {label} {signal}") }
    }

    fn place_words(&self, place: Place) -> String {
        match place {
            Place::Pin(pin) => self.pin_words(pin),
            Place::Contact(net, label) => {
                let label =
                    self.nets.get(net).and_then(|n| n.labels.get(label)).map_or_else(String::new, Label::to_string);
                format!("contact {label}")
            }
        }
    }

    /// The wire to a pin, in words.
    pub(super) fn wire_words(&self, pin: usize) -> String {
        format!("{} to {}", self.net_words(self.net_of(pin)), self.pin_words(pin))
    }

    /// A fault in words.
    pub(super) fn words(&self, fault: Fault) -> String {
        match fault {
            Fault::OpenPin(pin) => format!("{} open", self.wire_words(pin)),
            Fault::OpenContact(net) => format!("{} open towards all its pins", self.net_words(net)),
            Fault::Short(_, _, [a, b]) => format!("{} and {} shorted", self.place_words(a), self.place_words(b)),
            Fault::Exchange(p, q) => {
                format!("{} and {} exchanged", self.wire_words(p), self.wire_words(q))
            }
        }
    }

    /// How to check that a fault is not there, with no supply on.
    pub(super) fn cold_check(&self, fault: Fault) -> String {
        match fault {
            Fault::OpenPin(pin) => format!("ring out {}", self.wire_words(pin)),
            Fault::OpenContact(net) => {
                format!("ring out {} to {}", self.net_words(net), self.pins_words(net))
            }
            Fault::Short(_, _, [a, b]) => {
                format!("no connection between {} and {}", self.place_words(a), self.place_words(b))
            }
            Fault::Exchange(p, q) => format!("ring out {} and {}", self.wire_words(p), self.wire_words(q)),
        }
    }
}
