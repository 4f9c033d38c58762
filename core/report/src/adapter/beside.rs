//! The parts that the adapter carries beside the devices.
use super::contacts::rail_name;
use crate::Seated;
use gluewright_devices::device::Role;
use gluewright_devices::fit::Note;
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
    /// What its two leads are on; a wire of the wiring list has none here.
    pub ends: Option<[End; 2]>,
    /// Why.
    pub why: &'static str,
}

/// What a lead is on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum End {
    /// A pin of a device.
    Pin(String, Label),
    /// A contact of the socket.
    Contact(Label),
    /// A rail.
    Rail(Rail),
}

pub(super) fn beside(seated: &[Seated<'_>]) -> Vec<Beside> {
    let mut parts = Parts::default();
    for s in seated {
        parts.of(s);
    }
    let ends = [End::Rail(Rail::Vcc), End::Rail(Rail::Gnd)];
    let between = ("the supply contacts, where the leads come in".to_owned(), Some(ends));
    parts.push(
        "C",
        "10 µF, 10 V or more, the right way round",
        between,
        "the leads to the socket (common practice, no source)",
    );
    parts.list
}

/// The parts as they are counted.
#[derive(Default)]
struct Parts {
    list: Vec<Beside>,
    counts: std::collections::BTreeMap<&'static str, usize>,
}

impl Parts {
    fn push(
        &mut self,
        letter: &'static str,
        part: &str,
        (between, ends): (String, Option<[End; 2]>),
        why: &'static str,
    ) {
        let count = self.counts.entry(letter).or_default();
        *count += 1;
        let reference = format!("{letter}{count}");
        self.list.push(Beside { reference, part: part.to_owned(), between, ends, why });
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
            let nearest = pins(Role::Gnd).min_by_key(|at| at.abs_diff(pin));
            let on = |pin: u16| End::Pin((*reference).to_owned(), Label::from(pin));
            let ends = nearest.map(|nearest| [on(pin), on(nearest)]);
            self.push("C", "100 nF ceramic", (between, ends), "decoupling (common practice, no source)");
        }
        for note in &fitted.notes {
            match note {
                Note::Resistor { label, name, pull } => {
                    let rail = if *pull == Pull::Down { "GND" } else { "VCC" };
                    let part = "resistor as on the original, 4.7 kΩ if that is not known";
                    let why = "the original had it, no device holds one (value: common practice, no source)";
                    let on = if *pull == Pull::Down { Rail::Gnd } else { Rail::Vcc };
                    let ends = [End::Contact(label.clone()), End::Rail(on)];
                    self.push("R", part, (format!("contact {label} ({name}) and {rail}"), Some(ends)), why);
                }
                Note::TwoPins { label, name, pins } => {
                    let pins: Vec<String> = pins.iter().map(|pin| format!("{reference} pin {pin}")).collect();
                    let between = format!("{}, both on contact {label} ({name})", pins.join(" and "));
                    self.push("T", "wire", (between, None), "the device reads this contact at two pins");
                }
                _ => {}
            }
        }
        for (pin, rail) in &fitted.ties {
            let between = format!("{reference} pin {pin} and {}", rail_name(*rail));
            self.push("T", "wire", (between, None), "the device wants this level there all the time");
        }
    }
}
