//! The adapter's wiring list: which contact of the socket goes to which pin of which device.
use crate::circuit::{Label, Rail};
use crate::fit::Fitted;

/// The wiring list as CSV, `contact,signal,device,pin`, in the order of contacts; devices are `U1`, `U2`, … in the order
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
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(["contact", "signal", "device", "pin"])?;
    for (label, signal, device, pin) in rows {
        writer.write_record([label.to_string(), signal, format!("U{device}"), pin.to_string()])?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
