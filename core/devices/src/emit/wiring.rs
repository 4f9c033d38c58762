//! The adapter's wiring list: which contact of the socket goes to which pin of which device.
use crate::fit::Fitted;
use gluewright_kernel::board::Remainder;
use gluewright_kernel::circuit::{Label, Rail};

/// One wire of the adapter.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
pub struct Wire {
    /// The contact of the socket, or what a wire without a contact is called.
    pub contact: Label,
    /// The signal.
    pub signal: String,
    /// The device, or the package that stays.
    pub device: String,
    /// Its pin.
    pub pin: Label,
}

/// The wires of the adapter, in the order of contacts; devices are `D1`, `D2`, … in the order given. A contact that goes to
/// several pins has several.
///
/// `supplies` are the contacts on which the board has its supply rails; those that a circuit declares come on top.
pub fn wires<'f>(devices: impl IntoIterator<Item = &'f Fitted>, supplies: &[(Label, Rail)]) -> Vec<Wire> {
    let mut rows: Vec<(Label, String, usize, u16)> = Vec::new();
    for (index, fitted) in devices.into_iter().enumerate() {
        let number = index + 1;
        rows.extend(fitted.wires.iter().map(|w| (w.label.clone(), w.signal.clone(), number, w.pin)));
        for supply in &fitted.supplies {
            let more = supplies.iter().filter(|(_, rail)| *rail == supply.rail).map(|(label, _)| label);
            let name = if supply.rail == Rail::Vcc { "VCC" } else { "GND" };
            let tied = fitted.ties.iter().filter(|(_, rail)| *rail == supply.rail).map(|(pin, _)| *pin);
            let pins: Vec<u16> = tied.chain([supply.pin]).collect();
            for label in supply.labels.iter().chain(more) {
                rows.extend(pins.iter().map(|&pin| (label.clone(), name.into(), number, pin)));
            }
        }
    }
    rows.sort();
    rows.dedup();
    let wire = |(contact, signal, number, pin): (Label, String, usize, u16)| Wire {
        contact,
        signal,
        device: format!("D{number}"),
        pin: Label::from(pin),
    };
    rows.into_iter().map(wire).collect()
}

/// The same for one device beside packages of the original that stay in their sockets: every pin of these has its wires
/// too. What has the same contact is wired together; where no contact is on a net, it is the first pin of a kept package,
/// `U1-11`.
pub fn wires_beside(remainder: &Remainder, reference: &str, fitted: &Fitted, supplies: &[(Label, Rail)]) -> Vec<Wire> {
    let mut all: Vec<Wire> = Vec::new();
    let device = |pin: u16| (reference.to_owned(), Label::from(pin));
    let wire = |contact: &Label, signal: &str, (device, pin): (String, Label)| Wire {
        contact: contact.clone(),
        signal: signal.to_owned(),
        device,
        pin,
    };
    for joint in &remainder.joints {
        let on = fitted.wires.iter().filter(|w| w.label == joint.label).map(|w| device(w.pin));
        let pins: Vec<(String, Label)> = on.chain(joint.pins.iter().cloned()).collect();
        let contacts = if joint.contacts.is_empty() { std::slice::from_ref(&joint.label) } else { &joint.contacts };
        for contact in contacts {
            all.extend(pins.iter().map(|pin| wire(contact, &joint.net, pin.clone())));
        }
    }
    for (contact, rail) in supplies {
        let name = if *rail == Rail::Vcc { "VCC" } else { "GND" };
        let kept = remainder.supplies.iter().filter(|(.., r)| r == rail).map(|(of, pin, _)| (of.clone(), pin.clone()));
        let tied = fitted.ties.iter().filter(|(_, r)| r == rail).map(|(pin, _)| device(*pin));
        let own = fitted.supplies.iter().filter(|s| s.rail == *rail).map(|s| device(s.pin));
        all.extend(own.chain(tied).chain(kept).map(|pin| wire(contact, name, pin)));
    }
    all.sort();
    all.dedup();
    all
}

/// The wires as CSV, `contact,signal,device,pin`.
///
/// # Errors
/// Only what the CSV writer reports.
pub fn wiring(wires: &[Wire]) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(["contact", "signal", "device", "pin"])?;
    for Wire { contact, signal, device, pin } in wires {
        writer.write_record([contact.as_str(), signal, device, pin.as_str()])?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
