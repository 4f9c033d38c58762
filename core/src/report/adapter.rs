//! What sits between socket and device: for every pin and every contact where it goes, and the parts beside the device.
use crate::circuit::{Circuit, Label, Polarity, Pull, Rail, Stage};
use crate::device::{Device, Electrical, PinNumber, Role, Termination};
use crate::fit::{Drive, Fitted, Note};
use crate::report::{KeptPin, Seated};

/// Which way a signal goes, as the device sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// The device reads it.
    In,
    /// The device drives it.
    Out,
    /// Both, one after the other.
    Both,
}

impl Way {
    /// In words, from the board's side.
    pub fn words(self) -> &'static str {
        match self {
            Way::In => "board to device",
            Way::Out => "device to board",
            Way::Both => "both ways",
        }
    }
}

/// What a pin of the device is connected to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Use {
    /// A contact.
    Wire {
        /// The contact.
        label: Label,
        /// The signal.
        signal: String,
        /// Which way it goes.
        way: Way,
        /// Whether it clocks the registers.
        clock: bool,
    },
    /// A supply rail, with the contacts that carry it.
    Supply {
        /// The rail.
        rail: Rail,
        /// The contacts, if the trace or the circuit names them.
        labels: Vec<Label>,
    },
    /// A rail, because the device wants it there.
    Tied(Rail),
    /// Nothing: the device drives the pin, or it belongs to a macrocell in use.
    Apart {
        /// The signal behind it, if there is one.
        signal: Option<String>,
        /// Whether the device drives it.
        driven: bool,
    },
    /// The programming port, by the standard's name of the pin.
    Port(&'static str),
    /// Nothing: an input without a signal.
    Unused {
        /// Whether it is an input and nothing else; else it is the pin of a macrocell whose driver is kept off.
        dedicated: bool,
    },
}

/// A pin of the device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DevicePin {
    /// Its number on the device's first package.
    pub number: PinNumber,
    /// What it is connected to.
    pub connected: Use,
}

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

/// A part beside the device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Beside {
    /// Its reference.
    pub reference: String,
    /// What it is.
    pub part: String,
    /// Between which points.
    pub between: String,
    /// Why.
    pub why: &'static str,
}

/// A device on the adapter.
#[derive(Clone, Debug)]
pub struct AdapterDevice {
    /// Its reference.
    pub reference: String,
    /// Its pins, in the order of their numbers.
    pub pins: Vec<DevicePin>,
    /// The reference of its first decoupling capacitor.
    pub capacitor: String,
}

/// The adapter: devices, socket, and what is beside them.
#[derive(Clone, Debug)]
pub struct Adapter {
    /// The devices.
    pub devices: Vec<AdapterDevice>,
    /// The socket's contacts, in the order of their labels.
    pub contacts: Vec<SocketContact>,
    /// The parts that the adapter carries beside the devices.
    pub beside: Vec<Beside>,
}

impl Adapter {
    /// From fits; `original` gives names and supplies of the traced card, `kept` the pins of packages that stay.
    pub fn new(seated: &[Seated<'_>], original: &Circuit, kept: &[KeptPin]) -> Adapter {
        let rails = rails(seated, original);
        let mut capacitors = 0;
        let mut devices = Vec::with_capacity(seated.len());
        for s in seated {
            let pins = s.device.pins.iter();
            let pins =
                pins.map(|p| DevicePin { number: p.number, connected: used(s.fitted, p.number, p.role, &rails) });
            let capacitor = format!("C{}", capacitors + 1);
            capacitors += s.device.pins.iter().filter(|p| p.role == Role::Vcc).count();
            devices.push(AdapterDevice { reference: s.reference.to_owned(), pins: pins.collect(), capacitor });
        }
        Adapter { devices, contacts: contacts(seated, original, &rails, kept), beside: beside(seated) }
    }
}

/// The supply contacts that circuit and trace name.
fn rails(seated: &[Seated<'_>], original: &Circuit) -> Vec<(Label, Rail)> {
    let supplies = seated.iter().flat_map(|s| &s.fitted.supplies);
    let declared = supplies.flat_map(|s| s.labels.iter().map(|l| (l.clone(), s.rail)));
    let mut all: Vec<(Label, Rail)> = declared.chain(original.supplies().iter().cloned()).collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all.dedup();
    all
}

/// Which way a signal goes at one device.
fn way(fitted: &Fitted, label: &Label) -> Way {
    match fitted.logic.outputs.iter().find(|o| &o.label == label) {
        None => Way::In,
        Some(o) if o.stage == Stage::ThreeState && o.read_as.is_some() => Way::Both,
        Some(_) => Way::Out,
    }
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

fn used(fitted: &Fitted, pin: PinNumber, role: Role, rails: &[(Label, Rail)]) -> Use {
    let supply = |rail: Rail| Use::Supply {
        rail,
        labels: rails.iter().filter(|(_, r)| *r == rail).map(|(l, _)| l.clone()).collect(),
    };
    match role {
        Role::Vcc => return supply(Rail::Vcc),
        Role::Gnd => return supply(Rail::Gnd),
        Role::Input | Role::ClockInput | Role::EnableInput | Role::Io => {}
    }
    if let Some((_, rail)) = fitted.ties.iter().find(|(p, _)| *p == pin) {
        return Use::Tied(*rail);
    }
    if let Some(wire) = fitted.wires.iter().find(|w| w.pin == pin) {
        let clock = fitted.clock.is_some_and(|c| {
            role == Role::ClockInput && fitted.logic.inputs.iter().any(|i| i.variable == c && i.label == wire.label)
        });
        let way = if fitted.cells.iter().any(|c| c.pin == Some(pin)) { way(fitted, &wire.label) } else { Way::In };
        return Use::Wire { label: wire.label.clone(), signal: wire.signal.clone(), way, clock };
    }
    if let Some(cell) = fitted.cells.iter().find(|c| c.pin == Some(pin)) {
        let silent = fitted.notes.contains(&Note::BuriedRegister { pin, name: cell.name.clone() });
        let driven = cell.drive != Drive::Never || !silent;
        return Use::Apart { signal: Some(cell.name.clone()), driven };
    }
    if let Some(port) = fitted.port.iter().find(|p| p.pin == pin) {
        return Use::Port(port.signal);
    }
    if fitted.driven.contains(&pin) {
        return Use::Apart { signal: None, driven: true };
    }
    Use::Unused { dedicated: role != Role::Io }
}

fn contacts(
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
pub(super) fn split(label: &Label) -> (String, Option<u16>) {
    let text = label.as_str();
    let at = text.find(|c: char| c.is_ascii_digit()).unwrap_or(text.len());
    let (letters, digits) = text.split_at(at);
    let plain = !digits.starts_with('0') && digits.chars().all(|c| c.is_ascii_digit());
    (letters.to_owned(), digits.parse().ok().filter(|_| plain))
}

/// The name of a rail.
pub(super) fn rail_name(rail: Rail) -> &'static str {
    match rail {
        Rail::Vcc => "VCC",
        Rail::Gnd => "GND",
    }
}

fn beside(seated: &[Seated<'_>]) -> Vec<Beside> {
    let mut parts = Parts::default();
    for s in seated {
        parts.of(s);
    }
    parts.list
}

/// The parts as they are counted.
#[derive(Default)]
struct Parts {
    list: Vec<Beside>,
    counts: std::collections::BTreeMap<&'static str, usize>,
}

impl Parts {
    fn push(&mut self, letter: &'static str, part: &str, between: String, why: &'static str) {
        let count = self.counts.entry(letter).or_default();
        *count += 1;
        let reference = format!("{letter}{count}");
        self.list.push(Beside { reference, part: part.to_owned(), between, why });
    }

    fn of(&mut self, seated: &Seated<'_>) {
        let Seated { reference, fitted, device, .. } = seated;
        let pins = |role: Role| device.pins.iter().filter(move |p| p.role == role).map(|p| p.number);
        let ground: Vec<String> = pins(Role::Gnd).map(|pin| pin.to_string()).collect();
        let ground = match ground.as_slice() {
            [one] => format!("ground pin {one}"),
            several => format!("the nearest of ground pins {}", several.join(", ")),
        };
        for pin in pins(Role::Vcc) {
            let between = format!("{reference} supply pin {pin} and {ground}, leads as short as they can be");
            self.push("C", "100 nF ceramic", between, "decoupling (common practice, no source)");
        }
        for note in &fitted.notes {
            match note {
                Note::Resistor { label, name, pull } => {
                    let rail = if *pull == Pull::Down { "GND" } else { "VCC" };
                    let part = "resistor as on the original, 4.7 kΩ if that is not known";
                    let why = "the original had it, no device holds one (value: common practice, no source)";
                    self.push("R", part, format!("contact {label} ({name}) and {rail}"), why);
                }
                Note::TwoPins { label, name, pins } => {
                    let pins: Vec<String> = pins.iter().map(|pin| format!("{reference} pin {pin}")).collect();
                    let between = format!("{}, both on contact {label} ({name})", pins.join(" and "));
                    self.push("T", "wire", between, "the device reads this contact at two pins");
                }
                _ => {}
            }
        }
        for (pin, rail) in &fitted.ties {
            let between = format!("{reference} pin {pin} and {}", rail_name(*rail));
            self.push("T", "wire", between, "the device wants this level there all the time");
        }
    }
}

/// What to do with pins that carry no signal, inputs and macrocells', by what holds an open pin of the types that are
/// known.
pub(super) fn advice(device: &Device, inputs: bool, macrocells: bool) -> Vec<String> {
    let mut said = if inputs { advice_on_inputs(device) } else { Vec::new() };
    if macrocells {
        said.push(match device.blocks {
            None => {
                "A macrocell's pin without a signal is never driven by this fuse file. Tie it to ground through 10 kΩ, not \
                 with a wire: another fuse file may drive it (common practice, no source)."
                    .to_owned()
            }
            Some(_) => {
                "What a macrocell's pin without a signal does is up to the maker's fitter: read its report, and leave the \
                 pin open unless that says otherwise. Never wire it to ground: a fitter may drive it (common practice, no \
                 source)."
                    .to_owned()
            }
        });
    }
    said
}

fn advice_on_inputs(device: &Device) -> Vec<String> {
    let mut said = Vec::new();
    let named = |wanted: Termination| -> Vec<String> {
        let is = |e: &&Electrical| e.termination.0 == wanted;
        device.electrical.iter().filter(is).map(|e| format!("{} ({})", e.parts, e.termination.1)).collect()
    };
    let pulled = named(Termination::PullUp);
    if !pulled.is_empty() {
        said.push(format!(
            "Types with a pull-up on every pin: leave them open, or tie them to ground. {}.",
            pulled.join("; ")
        ));
    }
    let kept = named(Termination::Keeper);
    if !kept.is_empty() {
        said.push(format!(
            "Types with a circuit that keeps the last level: they may stay open, tied to ground they are quieter. {}.",
            kept.join("; ")
        ));
    }
    let others = if said.is_empty() {
        "Unless the sheet of the very maker says otherwise"
    } else {
        "All other types, and whenever the sheet of the very maker is not at hand"
    };
    said.push(format!(
        "{others}: tie inputs to ground with a wire; never leave an input of a CMOS part open (common practice, no source)."
    ));
    said
}
