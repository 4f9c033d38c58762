//! The replacement: devices with their fuse files and packages that stay, wired as the wiring list says.
use std::collections::{BTreeMap, HashMap};

use anyhow::{Context, Result, ensure};

use crate::model::{Model, Wire};
use crate::part::Library;
use crate::trace::label;
use crate::{device, fuses};

/// The first four fields of each row of a list.
fn rows(list: &str, what: &str) -> Result<Vec<[String; 4]>> {
    let rows = csv::Reader::from_reader(list.as_bytes()).into_records().map(|row| {
        let row = row.with_context(|| format!("the {what} can't be read"))?;
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
    file: impl Fn(&str) -> Result<Vec<u8>>,
    contacts: &[String],
    supplies: &BTreeMap<String, bool>,
    library: &Library,
) -> Result<Model> {
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
        ensure!(old.is_none_or(|old| old == wire), "the wiring list has {reference} pin {pin} on two nets");
    }
    for [reference, kind, name, at] in rows(parts, "parts list")? {
        if let Some(way) = kind.strip_prefix("pull ") {
            let found = nets.get(&label(&at)).copied().or_else(|| model.find_net(&at));
            let net = found.with_context(|| format!("{reference}: there is no net `{at}` to pull"))?;
            let way =
                ["down", "up"].iter().position(|w| *w == way).with_context(|| format!("{reference}: `{kind}`"))?;
            model.nets[net].pull = Some(way == 1);
            continue;
        }
        let part = if name.is_empty() {
            library.part(&kind)
        } else {
            device::device(&kind, &fuses::read(&file(&name)?).context(name)?)
        };
        let part = part.with_context(|| reference.clone())?;
        let wires = pins.remove(&reference).with_context(|| format!("the wiring list has no pin of {reference}"))?;
        model.place(&reference, &part, |pin| wires.get(pin).copied().unwrap_or(Wire::Open))?;
    }
    let left: Vec<String> = pins.into_keys().collect();
    ensure!(left.is_empty(), "the wiring list has {}, and the parts list has not", left.join(", "));
    Ok(model)
}
