//! The replacement: devices with their fuse files and packages that stay, wired as the wiring list says.
use std::collections::{BTreeMap, HashMap};

use crate::model::{Model, Pull, Wire};
use crate::part::{Library, Part};
use crate::trace::label;
use crate::{device, fuses};

/// The first four fields of each row of a list.
fn rows(list: &str, what: &str) -> Result<Vec<[String; 4]>, String> {
    let rows = csv::Reader::from_reader(list.as_bytes()).into_records().map(|row| {
        let row = row.map_err(|e| format!("the {what} can't be read: {e}"))?;
        Ok([0, 1, 2, 3].map(|i| row.get(i).unwrap_or_default().trim().to_owned()))
    });
    rows.collect()
}

/// The contacts that the wiring list declares as supplies.
pub fn supplies(wiring: &str) -> BTreeMap<String, bool> {
    let rows = rows(wiring, "wiring list").unwrap_or_default().into_iter();
    let declared = rows.filter(|[_, signal, ..]| signal == "VCC" || signal == "GND");
    declared.map(|[contact, signal, ..]| (label(&contact), signal == "VCC")).collect()
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
    for [contact, signal, reference, pin] in rows(wiring, "wiring list")? {
        let (contact, pin) = (label(&contact), label(&pin));
        let wire = match supplies.get(&contact) {
            Some(&high) if !contacts.contains(&contact) => Wire::Rail(high),
            None if signal == "VCC" || signal == "GND" => Wire::Rail(signal == "VCC"),
            _ => {
                let net = *nets.entry(contact.clone()).or_insert_with(|| model.net(format!("{contact} {signal}")));
                model.also.insert(signal.clone(), net);
                model.also.insert(format!("{contact} {signal}"), net);
                Wire::Net(net)
            }
        };
        let old = pins.entry(reference.clone()).or_default().insert(pin.clone(), wire);
        if old.is_some_and(|old| old != wire) {
            return Err(format!("the wiring list has {reference} pin {pin} on two nets"));
        }
    }
    for [reference, kind, name, at] in rows(parts, "parts list")? {
        if let Some(way) = kind.strip_prefix("pull ") {
            let found = nets.get(&label(&at)).copied().or_else(|| model.find_net(&at));
            let net = found.ok_or_else(|| format!("{reference}: there is no net `{at}` to pull"))?;
            model.nets[net].pull = match way {
                "up" => Pull::Up,
                "down" => Pull::Down,
                _ => return Err(format!("{reference}: `{kind}`")),
            };
            continue;
        }
        let part: Part = if name.is_empty() {
            library.part(&kind).map_err(|e| format!("{reference}: {e}"))?
        } else {
            device::known(&kind).map_err(|e| format!("{reference}: {e}"))?;
            let read = fuses::read(&file(&name)?).map_err(|e| format!("{name}: {e}"))?;
            device::device(&kind, &read).map_err(|e| format!("{reference}: {e}"))?
        };
        let wires = pins.remove(&reference).ok_or_else(|| format!("the wiring list has no pin of {reference}"))?;
        model.place(&reference, &part, |pin| wires.get(pin).copied().unwrap_or(Wire::Open))?;
    }
    if let Some((reference, _)) = pins.first_key_value() {
        return Err(format!("the wiring list has {reference}, and the parts list has not"));
    }
    Ok(model)
}
