//! A device in the socket without an adapter: its pins are the socket's contacts.
use super::demand::{Demands, Drive};
use super::item::{Item, label};
use super::place::Place;
use super::{NoFit, Wishes};
use crate::device::{Device, EnableSource, Function, PinNumber, Role};
use gluewright_kernel::circuit::{Circuit, Label, Rail};

/// Whether labels and supply pins allow a device to go into the socket as it is.
pub(super) fn check(circuit: &Circuit, device: &Device) -> Result<(), NoFit> {
    let no = |label: &Label, why: String| Err(NoFit::NotStraight { contact: label.clone(), device: device.name, why });
    for contact in circuit.contacts() {
        let Some(number) = contact.label.number() else {
            return no(&contact.label, format!("the label of `{}` is no pin number: use an adapter", contact.name));
        };
        match device.role(number) {
            None => return no(&contact.label, format!("the device has no pin {number}: use an adapter")),
            Some(Role::Vcc) => return no(&contact.label, supply(&contact.name, "positive supply")),
            Some(Role::Gnd) => return no(&contact.label, supply(&contact.name, "ground")),
            Some(Role::Input | Role::ClockInput | Role::EnableInput | Role::Io) => {}
        }
    }
    for (label, rail) in circuit.supplies() {
        let wanted = if *rail == Rail::Vcc { Role::Vcc } else { Role::Gnd };
        if label.number().and_then(|n| device.role(n)) != Some(wanted) {
            return no(label, "the device doesn't have that supply there: use an adapter".to_owned());
        }
    }
    Ok(())
}

fn supply(name: &str, what: &str) -> String {
    format!("`{name}` is where the device has its {what}: use an adapter")
}

/// Whether an item may be on a pin of a device that sits in the socket.
pub(super) fn allows(demands: &Demands, place: Place<'_>, wishes: &Wishes, item: Item, pin: PinNumber) -> bool {
    if let Some(label) = label(demands, item) {
        return label.number() == Some(pin);
    }
    let Item::Macrocell(index) = item else { return false };
    let Some(demand) = demands.list.get(index) else { return false };
    let by_pin = place
        .mode
        .macrocell(pin)
        .and_then(|m| m.configuration(demand.function))
        .is_none_or(|c| !matches!(c.enable, EnableSource::Row(_) | EnableSource::Never));
    let driven = demand.drive != Drive::Never || (by_pin && demand.function == Function::Registered);
    !driven || wishes.open.contains(&Label::from(pin))
}
