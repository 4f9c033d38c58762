//! What sits between socket and device: for every pin and every contact where it goes, and the parts beside the device.
mod advice;
mod beside;
mod contacts;
mod pins;
mod rest;

use crate::{KeptPin, Seated};
use gluewright_kernel::circuit::{Circuit, Label, Rail};

pub(super) use advice::advice;
pub use beside::{Beside, End, Joins};
pub use contacts::{Purpose, SocketContact};
pub(super) use contacts::{rail_name, split};
pub use pins::{DevicePin, Use, Way};
pub use rest::Rest;

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
        let device = |s: &Seated<'_>| {
            let used = |number, role| pins::used(s.fitted, s.device, number, role, &rails);
            let pins = s.device.pins.iter();
            let pins = pins.map(|p| DevicePin { number: p.number, connected: used(p.number, p.role) });
            AdapterDevice { reference: s.reference.to_owned(), pins: pins.collect(), capacitor: String::new() }
        };
        let mut devices: Vec<AdapterDevice> = seated.iter().map(device).collect();
        let contacts = contacts::contacts(seated, original, &rails, kept);
        let beside = beside::beside(seated, &devices, &contacts, kept);
        for device in &mut devices {
            let first = beside.iter().find(|b| b.decouples() == Some(&device.reference));
            device.capacitor = first.map_or_else(String::new, |b| b.reference.clone());
        }
        Adapter { devices, contacts, beside }
    }
}

impl Adapter {
    /// The supply pins on a rail of all that sits on the adapter: reference and pin, devices first, then packages that stay.
    pub fn supply_pins(&self, rail: Rail) -> Vec<(String, Label)> {
        let on = |pin: &&DevicePin| matches!(&pin.connected, Use::Supply { rail: on, .. } if *on == rail);
        let of = |d: &AdapterDevice| -> Vec<(String, Label)> {
            d.pins.iter().filter(on).map(|pin| (d.reference.clone(), Label::from(pin.number))).collect()
        };
        let mut all: Vec<(String, Label)> = self.devices.iter().flat_map(of).collect();
        let contacts = self.contacts.iter().filter(|c| c.purpose == Purpose::Supply(rail));
        for pin in contacts.flat_map(|c| &c.pins) {
            if !all.contains(pin) {
                all.push(pin.clone());
            }
        }
        all
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
