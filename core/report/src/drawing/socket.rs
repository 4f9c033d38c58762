//! The socket's contacts by their labels, in columns: the order of the labels, not their place on the card.
use super::pen::{Hold, Look, Pen};
use crate::adapter::{Adapter, Purpose, SocketContact, Way, split};
use gluewright_kernel::circuit::{Label, Rail};

/// Distance of two contacts.
const PITCH: f64 = 24.0;
/// More contacts than this start another column.
const COLUMN: usize = 24;
/// Width of a column.
const WIDTH: f64 = 345.0;

/// The socket's contacts, with the device's pins that each goes to.
pub fn socket(adapter: &Adapter) -> String {
    let contacts: Vec<&SocketContact> =
        adapter.contacts.iter().filter(|c| !matches!(c.purpose, Purpose::Between(_))).collect();
    let columns = columns(&contacts);
    let most = columns.iter().map(Vec::len).max().unwrap_or(0);
    let number = |n: usize| f64::from(u16::try_from(n).unwrap_or(u16::MAX));
    let bands = columns.len().div_ceil(2).max(1);
    let band = number(most) * PITCH + 24.0;
    let mut pen = Pen::default();
    for (index, column) in columns.iter().enumerate() {
        let left = number(index % 2) * WIDTH;
        let top = number(index / 2) * band + 8.0;
        let height = number(column.len()) * PITCH + 8.0;
        pen.rectangle((left + 8.0, top), (52.0, height), 2.0, false);
        for (row, contact) in column.iter().enumerate() {
            let y = top + 16.0 + number(row) * PITCH;
            draw(&mut pen, contact, left + 34.0, y);
        }
    }
    let width = if columns.len() > 1 { 2.0 * WIDTH } else { WIDTH };
    pen.finish(width, number(bands) * band + 4.0, "The socket's contacts, in the order of their labels")
}

/// One column for each letter in front of a number; long ones are broken.
fn columns<'a>(contacts: &[&'a SocketContact]) -> Vec<Vec<&'a SocketContact>> {
    let mut by_letter: Vec<(String, Vec<&SocketContact>)> = Vec::new();
    for &contact in contacts {
        let (letters, number) = split(&contact.label);
        let key = if number.is_some() { letters } else { String::new() };
        match by_letter.iter_mut().find(|(k, _)| *k == key) {
            Some((_, column)) => column.push(contact),
            None => by_letter.push((key, vec![contact])),
        }
    }
    let broken = by_letter.into_iter().flat_map(|(_, column)| {
        let parts = column.len().div_ceil(COLUMN).max(1);
        let parts = if column.len() > 12 { parts.max(2) } else { parts };
        let size = column.len().div_ceil(parts).max(1);
        column.chunks(size).map(<[&SocketContact]>::to_vec).collect::<Vec<_>>()
    });
    broken.collect()
}

fn draw(pen: &mut Pen, contact: &SocketContact, x: f64, y: f64) {
    let missing = contact.purpose == Purpose::Missing;
    pen.contact((x, y), contact.label.as_str(), missing || contact.purpose == Purpose::Idle);
    let (from, to) = (x + 26.0, x + 66.0);
    let mut at = pins(&contact.pins);
    if at.chars().count() > 24 {
        let mut references: Vec<&str> = contact.pins.iter().map(|(reference, _)| reference.as_str()).collect();
        references.dedup();
        at = format!("{}: table", references.join(", "));
    }
    match contact.purpose {
        Purpose::Signal { way, .. } | Purpose::Between(way) => {
            pen.line((from, y), (to, y));
            if matches!(way, Way::In | Way::Both) {
                pen.arrow((to, y), true);
            }
            if matches!(way, Way::Out | Way::Both) {
                pen.arrow((from, y), false);
            }
            pen.text((to + 8.0, y + 4.5), Hold::Start, Look::Plain, &contact.signal, 17);
            pen.text((x + 300.0, y + 4.5), Hold::End, Look::Strong, &at, 26);
        }
        Purpose::Kept => {
            pen.line((from, y), (to, y));
            pen.text((to + 8.0, y + 4.5), Hold::Start, Look::Plain, &contact.net, 17);
            pen.text((x + 300.0, y + 4.5), Hold::End, Look::Plain, &at, 26);
        }
        Purpose::Supply(rail) => {
            pen.thick((from, y), (to, y));
            let name = if rail == Rail::Vcc { "VCC +5 V" } else { "GND" };
            pen.text((to + 8.0, y + 4.5), Hold::Start, Look::Strong, name, 17);
            pen.text((x + 300.0, y + 4.5), Hold::End, Look::Strong, &at, 26);
        }
        Purpose::Idle => pen.text((from + 4.0, y + 4.0), Hold::Start, Look::Small, "not used: leave open", 40),
        Purpose::Missing => {
            pen.text((from + 4.0, y + 4.0), Hold::Start, Look::Small, "not in the trace: leave open", 40)
        }
    }
}

/// `D1 pins 3, 5; D2 pin 7`.
pub fn pins(at: &[(String, Label)]) -> String {
    let mut by_device: Vec<(&str, Vec<String>)> = Vec::new();
    for (reference, pin) in at {
        match by_device.iter_mut().find(|(r, _)| r == reference) {
            Some((_, pins)) => pins.push(pin.to_string()),
            None => by_device.push((reference, vec![pin.to_string()])),
        }
    }
    let told = by_device.iter().map(|(reference, pins)| {
        let plural = if pins.len() == 1 { "pin" } else { "pins" };
        format!("{reference} {plural} {}", pins.join(", "))
    });
    told.collect::<Vec<_>>().join("; ")
}
