//! The replacement: devices with their fuse files and packages that stay, wired as the wiring list says.
use std::collections::{BTreeMap, HashMap};

use crate::model::{Model, Pull, Wire};
use crate::part::{Library, Part};
use crate::trace::label;
use crate::{device, fuses};

/// The contacts that the wiring list declares as supplies.
pub fn supplies(wiring: &str) -> BTreeMap<String, bool> {
    let rows = csv::Reader::from_reader(wiring.as_bytes()).into_records().flatten();
    let declared = rows.filter(|r| matches!(r.get(1), Some("VCC" | "GND")));
    declared.map(|r| (label(r.get(0).unwrap_or_default()), r.get(1) == Some("VCC"))).collect()
}

/// The replacement's circuit from `parts.csv` and `wiring.csv`; `file` gives a file's bytes, `contacts` are the labels of
/// the original's signal contacts, `supplies` those of the trace that carry a rail.
///
/// # Errors
/// What is missing, contradicts itself, or is unknown to the checker.
pub fn model(
    (parts, wiring): (&str, &str),
    file: impl Fn(&str) -> Result<Vec<u8>, String>,
    contacts: &[String],
    supplies: &BTreeMap<String, bool>,
    library: &Library,
) -> Result<Model, String> {
    let mut model = Model::default();
    let mut nets: HashMap<String, usize> = HashMap::new();
    let mut pins: BTreeMap<String, HashMap<String, Wire>> = BTreeMap::new();
    for contact in contacts {
        let net = model.net(format!("contact {contact}"));
        model.contact(contact.clone(), net);
        nets.insert(contact.clone(), net);
    }
    for row in csv::Reader::from_reader(wiring.as_bytes()).into_records() {
        let row = row.map_err(|e| format!("the wiring list can't be read: {e}"))?;
        let field = |i: usize| row.get(i).unwrap_or_default().trim();
        let (contact, signal, reference, pin) = (label(field(0)), field(1), field(2), label(field(3)));
        let wire = match supplies.get(&contact) {
            Some(&high) if !contacts.contains(&contact) => Wire::Rail(high),
            None if signal == "VCC" || signal == "GND" => Wire::Rail(signal == "VCC"),
            _ => {
                let net = *nets.entry(contact.clone()).or_insert_with(|| model.net(format!("{contact} {signal}")));
                model.also.insert(signal.to_owned(), net);
                model.also.insert(format!("{contact} {signal}"), net);
                Wire::Net(net)
            }
        };
        let old = pins.entry(reference.to_owned()).or_default().insert(pin.clone(), wire);
        if old.is_some_and(|old| old != wire) {
            return Err(format!("the wiring list has {reference} pin {pin} on two nets"));
        }
    }
    for row in csv::Reader::from_reader(parts.as_bytes()).into_records() {
        let row = row.map_err(|e| format!("the parts list can't be read: {e}"))?;
        let field = |i: usize| row.get(i).unwrap_or_default().trim();
        let (reference, kind, name, at) = (field(0), field(1), field(2), label(field(3)));
        if let Some(way) = kind.strip_prefix("pull ") {
            let found = nets.get(&at).copied().or_else(|| model.find_net(field(3)));
            let net = found.and_then(|n| model.nets.get_mut(n));
            let net = net.ok_or_else(|| format!("{reference}: there is no net `{at}` to pull"))?;
            net.pull = match way {
                "up" => Pull::Up,
                "down" => Pull::Down,
                _ => return Err(format!("{reference}: `{kind}`")),
            };
            continue;
        }
        let part: Part = if name.is_empty() {
            library.part(kind).map_err(|e| format!("{reference}: {e}"))?
        } else {
            device::known(kind).map_err(|e| format!("{reference}: {e}"))?;
            let read = fuses::read(&file(name)?).map_err(|e| format!("{name}: {e}"))?;
            device::device(kind, &read).map_err(|e| format!("{reference}: {e}"))?
        };
        let wires = pins.remove(reference).ok_or_else(|| format!("the wiring list has no pin of {reference}"))?;
        model.place(reference, &part, |pin| wires.get(pin).copied().unwrap_or(Wire::Open))?;
    }
    if let Some((reference, _)) = pins.first_key_value() {
        return Err(format!("the wiring list has {reference}, and the parts list has not"));
    }
    Ok(model)
}
