//! The parts and the wires that the adapter carries beside the devices.
use std::collections::{BTreeMap, BTreeSet};

use super::contacts::rail_name;
use super::{AdapterDevice, DevicePin, Purpose, Rest, SocketContact, Use};
use crate::page::resistance;
use crate::{KeptPin, Seated};
use gluewright_devices::fit::{Fitted, Note};
use gluewright_kernel::circuit::{Label, Pull, Rail};

/// A part beside the device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Beside {
    /// Its reference.
    pub reference: String,
    /// What it is.
    pub part: String,
    /// Between which points.
    pub between: String,
    /// What it joins.
    pub joins: Joins,
    /// Why.
    pub why: &'static str,
}

/// What a part joins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Joins {
    /// Each of its leads, by name, is on the net of something.
    Leads(Vec<(Label, End)>),
    /// It sits at a package's supply pin, and its leads go to that pin and to a ground pin of the package themselves.
    Decouples {
        /// The package.
        reference: String,
        /// Its supply pin and its ground pin.
        pins: [Label; 2],
    },
    /// It is wire: from each of these to the rail.
    Wires(Vec<End>, Rail),
    /// Its wires stand in the wiring list.
    Listed,
}

/// What a lead is on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// A pin of a package.
    Pin(String, Label),
    /// A contact of the socket.
    Contact(Label),
    /// A rail.
    Rail(Rail),
}

impl Beside {
    /// The package whose supply it decouples.
    pub fn decouples(&self) -> Option<&String> {
        match &self.joins {
            Joins::Decouples { reference, .. } => Some(reference),
            _ => None,
        }
    }

    /// The pins of packages that it is at.
    pub(crate) fn pins(&self) -> Vec<(&str, &Label)> {
        match &self.joins {
            Joins::Decouples { reference, pins } => pins.iter().map(|pin| (reference.as_str(), pin)).collect(),
            Joins::Wires(ends, _) => ends.iter().filter_map(End::pin).collect(),
            Joins::Leads(leads) => leads.iter().filter_map(|(_, end)| end.pin()).collect(),
            Joins::Listed => Vec::new(),
        }
    }
}

impl End {
    fn pin(&self) -> Option<(&str, &Label)> {
        match self {
            End::Pin(reference, pin) => Some((reference, pin)),
            End::Contact(_) | End::Rail(_) => None,
        }
    }
}

pub(super) fn beside(
    seated: &[Seated<'_>],
    devices: &[AdapterDevice],
    contacts: &[SocketContact],
    kept: &[KeptPin],
) -> Vec<Beside> {
    let mut parts =
        Parts { taken: kept.iter().map(|k| k.reference.as_str()).chain(["J1"]).collect(), ..Parts::default() };
    for device in devices {
        parts.decouple(&device.reference, |rail| {
            let on = |p: &&DevicePin| matches!(p.connected, Use::Supply { rail: on, .. } if on == rail);
            device.pins.iter().filter(on).map(|p| Label::from(p.number)).collect()
        });
    }
    for reference in kept.iter().map(|k| k.reference.as_str()).collect::<BTreeSet<_>>() {
        parts.decouple(reference, |rail| {
            let on = contacts.iter().filter(|c| c.purpose == Purpose::Supply(rail)).flat_map(|c| &c.pins);
            let pins: BTreeSet<&Label> = on.filter(|(of, _)| of == reference).map(|(_, pin)| pin).collect();
            pins.into_iter().cloned().collect()
        });
    }
    parts.push(
        "C",
        "10 µF, 10 V or more, the right way round: lead 1 is plus",
        "the supply contacts, where the leads come in".to_owned(),
        leads([End::Rail(Rail::Vcc), End::Rail(Rail::Gnd)]),
        "the leads to the socket (common practice, no source)",
    );
    for (seated, device) in seated.iter().zip(devices) {
        parts.noted(seated.reference, seated.fitted);
        parts.held(device);
    }
    parts.list
}

/// Leads by their numbers.
fn leads(ends: [End; 2]) -> Joins {
    Joins::Leads(ends.into_iter().zip(1..).map(|(end, n)| (Label::from(n), end)).collect())
}

/// The parts as they are counted.
#[derive(Default)]
struct Parts<'a> {
    list: Vec<Beside>,
    counts: BTreeMap<&'static str, usize>,
    /// References that other things have.
    taken: BTreeSet<&'a str>,
}

impl Parts<'_> {
    fn push(&mut self, letter: &'static str, part: &str, between: String, joins: Joins, why: &'static str) {
        let count = self.counts.entry(letter).or_default();
        let reference = loop {
            *count += 1;
            let reference = format!("{letter}{count}");
            if !self.taken.contains(reference.as_str()) {
                break reference;
            }
        };
        self.list.push(Beside { reference, part: part.to_owned(), between, joins, why });
    }

    /// A capacitor for each supply pin, by the pins that a package has on a rail.
    fn decouple(&mut self, package: &str, pins: impl Fn(Rail) -> Vec<Label>) {
        let (supply, ground) = (pins(Rail::Vcc), pins(Rail::Gnd));
        let number = |pin: &Label| pin.number().unwrap_or(0);
        let mut add = |between: String, joins: Joins| {
            self.push("C", "100 nF ceramic", between, joins, "decoupling (common practice, no source)");
        };
        for pin in &supply {
            let nearest = ground.iter().min_by_key(|at| number(at).abs_diff(number(pin)));
            let joins = nearest.map_or(Joins::Listed, |nearest| Joins::Decouples {
                reference: package.to_owned(),
                pins: [pin.clone(), nearest.clone()],
            });
            let ground = nearest.map_or_else(|| "ground".to_owned(), |nearest| format!("ground pin {nearest}"));
            add(format!("{package} supply pin {pin} and {ground}, at the pin, leads as short as they can be"), joins);
        }
        if supply.is_empty() {
            add(format!("{package} supply pin and ground pin (the trace names no supply contact)"), Joins::Listed);
        }
    }

    /// What the fit asks for.
    fn noted(&mut self, reference: &str, fitted: &Fitted) {
        for note in &fitted.notes {
            match note {
                Note::Resistor { label, name, pull } => {
                    let rail = if *pull == Pull::Down { Rail::Gnd } else { Rail::Vcc };
                    let part = "resistor as on the original, 4.7 kΩ if that is not known";
                    let why = "the original had it, no device holds one (value: common practice, no source)";
                    let between = format!("contact {label} ({name}) and {}", rail_name(rail));
                    self.push("R", part, between, leads([End::Contact(label.clone()), End::Rail(rail)]), why);
                }
                Note::TwoPins { label, name, pins } => {
                    let pins: Vec<String> = pins.iter().map(|pin| format!("{reference} pin {pin}")).collect();
                    let between = format!("{}, both on contact {label} ({name})", pins.join(" and "));
                    self.push("T", "wire", between, Joins::Listed, "the device reads this contact at two pins");
                }
                _ => {}
            }
        }
    }

    /// What holds a device's pins that carry no signal, and the plug of its programming port.
    fn held(&mut self, device: &AdapterDevice) {
        let reference = &device.reference;
        let on = |pin: &DevicePin| End::Pin(reference.clone(), Label::from(pin.number));
        for rail in [Rail::Vcc, Rail::Gnd] {
            let wanted = |p: &&DevicePin| p.connected == Use::Tied(rail);
            self.wire(
                reference,
                device.pins.iter().filter(wanted),
                rail,
                "the device wants this level there all the time",
            );
            let spare = |p: &&DevicePin| matches!(p.connected, Use::Unused { rest, .. } if rest == Rest::Wire(rail));
            let why = "inputs without a signal (common practice, no source)";
            self.wire(reference, device.pins.iter().filter(spare), rail, why);
        }
        // the plug first: its pins name the nets
        let mut port: Vec<(Label, End)> = Vec::new();
        for pin in &device.pins {
            if let Use::Port { signal, .. } = pin.connected {
                port.push((Label::new(signal), on(pin)));
            }
        }
        if !port.is_empty() {
            port.extend([Rail::Vcc, Rail::Gnd].map(|rail| (Label::new(rail_name(rail)), End::Rail(rail))));
            let names: Vec<&str> = port.iter().map(|(name, _)| name.as_str()).collect();
            let between = format!("{reference}: {}", names.join(", "));
            let why = "programming in the circuit; the order of its pins is the programmer's";
            self.push("J", "plug for the programmer", between, Joins::Leads(port), why);
        }
        for pin in &device.pins {
            let (rest, why) = match pin.connected {
                Use::Unused { rest, .. } => (rest, "a macrocell's pin without a signal (common practice, no source)"),
                Use::Port { rest, .. } => (rest, "the programming port, once the plug is gone"),
                _ => continue,
            };
            if let Rest::Through { ohms, to, unless_held } = rest {
                let unless = if unless_held { ", none where the type has a pull-up or a keeper" } else { "" };
                let part = format!("resistor {}{unless}", resistance(ohms));
                let between = format!("{reference} pin {} and {}", pin.number, rail_name(to));
                self.push("R", &part, between, leads([on(pin), End::Rail(to)]), why);
            }
        }
    }

    fn wire<'p>(&mut self, of: &str, pins: impl Iterator<Item = &'p DevicePin>, rail: Rail, why: &'static str) {
        let pins: Vec<Label> = pins.map(|pin| Label::from(pin.number)).collect();
        let names: Vec<&str> = pins.iter().map(Label::as_str).collect();
        let between = match names.as_slice() {
            [] => return,
            [one] => format!("{of} pin {one} and {}", rail_name(rail)),
            several => format!("{of} pins {}, each to {}", several.join(", "), rail_name(rail)),
        };
        let ends = pins.iter().map(|pin| End::Pin(of.to_owned(), pin.clone())).collect();
        self.push("T", "wire", between, Joins::Wires(ends, rail), why);
    }
}
