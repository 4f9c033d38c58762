//! The pins of a device: what each is connected to.
use super::Rest;
use gluewright_devices::device::{Device, PinNumber, PortRest, Role};
use gluewright_devices::fit::{Drive, Fitted, Note};
use gluewright_kernel::circuit::{Label, Rail, Stage};

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
#[derive(Clone, Debug, PartialEq)]
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
    /// The programming port.
    Port {
        /// The standard's name of the pin.
        signal: &'static str,
        /// What its level is once the plug is gone.
        level: PortRest,
        /// What gives it that level.
        rest: Rest,
    },
    /// Nothing: an input without a signal.
    Unused {
        /// Whether it is an input and nothing else; else it is the pin of a macrocell whose driver is kept off.
        dedicated: bool,
        /// How it is held.
        rest: Rest,
    },
}

/// A pin of the device.
#[derive(Clone, Debug, PartialEq)]
pub struct DevicePin {
    /// Its number on the device's first package.
    pub number: PinNumber,
    /// What it is connected to.
    pub connected: Use,
}

/// Which way a signal goes at one device.
pub(super) fn way(fitted: &Fitted, label: &Label) -> Way {
    match fitted.logic.outputs.iter().find(|o| &o.label == label) {
        None => Way::In,
        Some(o) if o.stage == Stage::ThreeState && o.read_as.is_some() => Way::Both,
        Some(_) => Way::Out,
    }
}

pub(super) fn used(fitted: &Fitted, device: &Device, pin: PinNumber, role: Role, rails: &[(Label, Rail)]) -> Use {
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
        return Use::Port { signal: port.signal, level: port.rest, rest: Rest::port(port.rest) };
    }
    if fitted.driven.contains(&pin) {
        return Use::Apart { signal: None, driven: true };
    }
    let dedicated = role != Role::Io;
    Use::Unused { dedicated, rest: Rest::spare(device, dedicated) }
}
