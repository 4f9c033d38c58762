//! The adapter's wiring list: which contact of the socket goes to which pin of which device.
use crate::fit::Fitted;
use gluewright_kernel::board::Remainder;
use gluewright_kernel::circuit::{Label, Rail};

/// The wiring list as CSV, `contact,signal,device,pin`, in the order of contacts; devices are `D1`, `D2`, … in the order
/// given. A contact that goes to several pins has several rows.
///
/// `supplies` are the contacts on which the board has its supply rails; those that a circuit declares come on top.
///
/// # Errors
/// Only what the CSV writer reports.
pub fn wiring(devices: &[Fitted], supplies: &[(Label, Rail)]) -> Result<String, csv::Error> {
    let mut rows: Vec<(Label, String, usize, u16)> = Vec::new();
    for (index, fitted) in devices.iter().enumerate() {
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
    let device = |number: usize| format!("D{number}");
    list(
        rows.into_iter()
            .map(|(label, signal, number, pin)| [label.to_string(), signal, device(number), pin.to_string()]),
    )
}

/// The same for one device beside packages of the original that stay in their sockets: every pin of these has its rows
/// too. What is in the column `contact` once is wired together; where no contact is on a net, it is the first pin of a
/// kept package, `U1-11`.
///
/// # Errors
/// Only what the CSV writer reports.
pub fn wiring_beside(
    remainder: &Remainder,
    reference: &str,
    fitted: &Fitted,
    supplies: &[(Label, Rail)],
) -> Result<String, csv::Error> {
    let mut rows: Vec<(Label, String, String, Label)> = Vec::new();
    let device = |pin: u16| (reference.to_owned(), Label::from(pin));
    for joint in &remainder.joints {
        let on = fitted.wires.iter().filter(|w| w.label == joint.label).map(|w| device(w.pin));
        let pins: Vec<(String, Label)> = on.chain(joint.pins.iter().cloned()).collect();
        let contacts = if joint.contacts.is_empty() { std::slice::from_ref(&joint.label) } else { &joint.contacts };
        for contact in contacts {
            rows.extend(pins.iter().map(|(of, pin)| (contact.clone(), joint.net.clone(), of.clone(), pin.clone())));
        }
    }
    for (contact, rail) in supplies {
        let name = if *rail == Rail::Vcc { "VCC" } else { "GND" };
        let kept = remainder.supplies.iter().filter(|(.., r)| r == rail).map(|(of, pin, _)| (of.clone(), pin.clone()));
        let tied = fitted.ties.iter().filter(|(_, r)| r == rail).map(|(pin, _)| device(*pin));
        let own = fitted.supplies.iter().filter(|s| s.rail == *rail).map(|s| device(s.pin));
        rows.extend(own.chain(tied).chain(kept).map(|(of, pin)| (contact.clone(), name.to_owned(), of, pin)));
    }
    rows.sort();
    rows.dedup();
    list(rows.into_iter().map(|(contact, signal, of, pin)| [contact.to_string(), signal, of, pin.to_string()]))
}

fn list(rows: impl Iterator<Item = [String; 4]>) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(["contact", "signal", "device", "pin"])?;
    for row in rows {
        writer.write_record(row)?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
