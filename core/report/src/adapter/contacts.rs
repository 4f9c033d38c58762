//! The contacts of the socket: what each is for, and the pins that it goes to.
use super::pins::{Way, way};
use crate::{KeptPin, Seated};
use gluewright_kernel::circuit::{Circuit, Label, Polarity, Rail, Stage};

/// A contact of the socket.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SocketContact {
    /// What is printed beside it.
    pub label: Label,
    /// The signal's name in the replacement; empty if it has none.
    pub signal: String,
    /// The net's name on the original; empty if the trace has none.
    pub net: String,
    /// What the contact is for.
    pub purpose: Purpose,
    /// The pins that it goes to: a device's or a kept package's reference, and the pin.
    pub pins: Vec<(String, Label)>,
}

/// What a contact of the socket is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// A signal.
    Signal {
        /// Which way it goes.
        way: Way,
        /// What it carries.
        polarity: Polarity,
        /// The stage behind it, if the device drives it.
        stage: Option<Stage>,
    },
    /// No contact: a wire between devices, or to a package that stays.
    Between(Way),
    /// Only packages that stay use it.
    Kept,
    /// A supply rail.
    Supply(Rail),
    /// The circuit declares it and uses it for nothing.
    Idle,
    /// A number between others that neither the trace nor the circuit has.
    Missing,
}

/// Which way it goes at the socket, where one device may drive what another reads.
fn way_of_all(seated: &[Seated<'_>], label: &Label) -> Way {
    let there = seated.iter().filter(|s| s.fitted.wires.iter().any(|w| &w.label == label));
    let ways: Vec<Way> = there.map(|s| way(s.fitted, label)).collect();
    let outputs = seated.iter().flat_map(|s| &s.fitted.logic.outputs).find(|o| &o.label == label);
    let floats = outputs.is_some_and(|o| o.stage == Stage::ThreeState);
    if ways.iter().all(|w| *w == Way::In) {
        Way::In
    } else if ways.contains(&Way::Both) || (floats && ways.contains(&Way::In)) {
        Way::Both
    } else {
        Way::Out
    }
}

pub(super) fn contacts(
    seated: &[Seated<'_>],
    original: &Circuit,
    rails: &[(Label, Rail)],
    kept: &[KeptPin],
) -> Vec<SocketContact> {
    let traced = |label: &Label| original.contacts().iter().find(|c| &c.label == label);
    let fits = || seated.iter().map(|s| s.fitted);
    let stays = |label: &Label| -> Vec<(String, Label)> {
        kept.iter().filter(|k| k.label == *label).map(|k| (k.reference.clone(), k.pin.clone())).collect()
    };
    let mut all: Vec<SocketContact> = Vec::new();
    let mut labels: Vec<Label> = fits().flat_map(|f| f.wires.iter().map(|w| w.label.clone())).collect();
    labels.extend(fits().flat_map(|f| f.logic.idle.iter().map(|(label, _)| label.clone())));
    labels.extend(original.contacts().iter().map(|c| c.label.clone()));
    labels.sort();
    labels.dedup();
    for label in labels {
        let wire = fits().flat_map(|f| &f.wires).find(|w| w.label == label);
        let idle = fits().flat_map(|f| &f.logic.idle).find(|(l, _)| *l == label).map(|(_, name)| name.clone());
        let output = fits().flat_map(|f| &f.logic.outputs).find(|o| o.label == label);
        let signals = || fits().flat_map(|f| &f.logic.signals);
        let polarity = signals().find(|s| s.label.as_ref() == Some(&label)).map(|s| s.polarity);
        let polarity = output.map(|o| o.polarity).or(polarity).unwrap_or(Polarity::Data);
        let way = way_of_all(seated, &label);
        let purpose = match (wire, traced(&label)) {
            (Some(_), None) if idle.is_none() && seated.len() > 1 => Purpose::Between(way),
            (Some(_), None) if kept.iter().any(|k| k.label == label) => Purpose::Between(way),
            (Some(_), _) => Purpose::Signal { way, polarity, stage: output.map(|o| o.stage) },
            (None, _) if kept.iter().any(|k| k.label == label) => Purpose::Kept,
            (None, _) => Purpose::Idle,
        };
        let signal = wire.map(|w| w.signal.clone()).or(idle).unwrap_or_default();
        let net = traced(&label).map_or_else(String::new, |c| c.name.clone());
        let pins = seated
            .iter()
            .flat_map(|s| s.fitted.pins_of(&label).into_iter().map(|pin| (s.reference.to_owned(), Label::from(pin))));
        let pins = pins.chain(stays(&label)).collect();
        all.push(SocketContact { label, signal, net, purpose, pins });
    }
    for (label, rail) in rails {
        let pins = seated.iter().flat_map(|s| {
            let pins = s.fitted.supplies.iter().filter(|supply| supply.rail == *rail);
            pins.map(|supply| (s.reference.to_owned(), Label::from(supply.pin)))
        });
        let pins = pins.chain(stays(label)).collect();
        let signal = rail_name(*rail).to_owned();
        let net = String::new();
        all.push(SocketContact { label: label.clone(), signal, net, purpose: Purpose::Supply(*rail), pins });
    }
    all.extend(missing(&all));
    all.sort_by(|a, b| a.label.cmp(&b.label));
    all
}

/// Labels that a count from the lowest to the highest would have, unless the gaps are too wide to be contacts.
fn missing(have: &[SocketContact]) -> Vec<SocketContact> {
    let mut rows: std::collections::BTreeMap<String, Vec<u16>> = std::collections::BTreeMap::new();
    for contact in have.iter().filter(|c| !matches!(c.purpose, Purpose::Between(_))) {
        if let (prefix, Some(number)) = split(&contact.label) {
            rows.entry(prefix).or_default().push(number);
        }
    }
    let mut gaps = Vec::new();
    for (prefix, numbers) in rows {
        let (Some(&first), Some(&last)) = (numbers.iter().min(), numbers.iter().max()) else { continue };
        if usize::from(last) > 4 * (numbers.len() + 4) {
            continue;
        }
        let low = first.min(1);
        for number in (low..=last).filter(|n| !numbers.contains(n)) {
            gaps.push(SocketContact {
                label: Label::new(format!("{prefix}{number}")),
                signal: String::new(),
                net: String::new(),
                purpose: Purpose::Missing,
                pins: Vec::new(),
            });
        }
    }
    gaps
}

/// The letters of a label and the number after them.
pub(crate) fn split(label: &Label) -> (String, Option<u16>) {
    let text = label.as_str();
    let at = text.find(|c: char| c.is_ascii_digit()).unwrap_or(text.len());
    let (letters, digits) = text.split_at(at);
    let plain = !digits.starts_with('0') && digits.chars().all(|c| c.is_ascii_digit());
    (letters.to_owned(), digits.parse().ok().filter(|_| plain))
}

/// The name of a rail.
pub(crate) fn rail_name(rail: Rail) -> &'static str {
    match rail {
        Rail::Vcc => "VCC",
        Rail::Gnd => "GND",
    }
}
