//! Lists for whoever builds the adapter: wires by length, and parts with their values.
use super::places::Layout;
use crate::adapter::{Adapter, End, Joins};
use crate::page::resistance;
use gluewright_kernel::circuit::Label;

/// `adapter_wires.csv`: the wires, the longest first. How long is nominal: where the contacts sit is not known.
///
/// # Errors
/// Only what the CSV writer reports.
pub fn wires(layout: &Layout) -> Result<Vec<u8>, csv::Error> {
    let mut to = csv::Writer::from_writer(Vec::new());
    to.write_record(["wire", "net", "from", "to", "nominal_mm"])?;
    for (wire, number) in layout.wires().iter().zip(1..) {
        let net = layout.nets.get(wire.net).map_or("", |n| n.name.as_str());
        let end = |at: usize| layout.points.get(at).map_or_else(String::new, |p| format!("{}-{}", p.reference, p.pin));
        let [from, till] = wire.ends.map(end);
        to.write_record([number.to_string().as_str(), net, &from, &till, &format!("{:.0}", wire.mm.ceil())])?;
    }
    to.into_inner().map_err(|e| csv::Error::from(e.into_error()))
}

/// Where a package that stays comes from; whether there still is a card, nobody said.
const KEPT: &str = "from the card, or another of this type if the card is lost";

/// `adapter_parts.csv`: what is on the adapter: each device with its type as it is burned, each package that stays, and the parts
/// beside. `ohms` gives the resistor that the original had on a contact, if the trace says how large it was.
///
/// # Errors
/// Only what the CSV writer reports.
pub fn parts(
    devices: &[(String, String)],
    kept: &[(String, String)],
    adapter: &Adapter,
    ohms: impl Fn(&Label) -> Option<f64>,
) -> Result<Vec<u8>, csv::Error> {
    let mut to = csv::Writer::from_writer(Vec::new());
    to.write_record(["reference", "part", "between", "why"])?;
    for (reference, part) in devices {
        to.write_record([reference.as_str(), part, "", "programmed as the bench sheet says"])?;
    }
    for (reference, part) in kept {
        to.write_record([reference.as_str(), part, "", KEPT])?;
    }
    for b in &adapter.beside {
        let known = match &b.joins {
            Joins::Leads(leads) => leads.first().and_then(|(_, end)| match end {
                End::Contact(label) => ohms(label),
                End::Pin(..) | End::Rail(_) => None,
            }),
            _ => None,
        };
        let part =
            known.map_or_else(|| b.part.clone(), |ohms| format!("resistor {}, as on the original", resistance(ohms)));
        to.write_record([b.reference.as_str(), &part, &b.between, b.why])?;
    }
    to.into_inner().map_err(|e| csv::Error::from(e.into_error()))
}
