//! The device as it is seen from above: a dual in-line package, or a square chip carrier with pins on four sides.
use super::pen::{Hold, Look, Pen, box_width};
use crate::adapter::{AdapterDevice, DevicePin, Rest, Use, Way, rail_name};
use gluewright_devices::device::{Body, Package};
use gluewright_kernel::circuit::Rail;

/// Distance of two pins.
const PITCH: f64 = 26.0;
/// Length of a wire between pin and contact.
const WIRE: f64 = 44.0;

/// The device from above, with the contact at each pin; without a package as a dual in-line one. A carrier whose pins are no
/// four equal sides, and a flat package, are drawn so too.
pub fn device(device: &AdapterDevice, type_number: &str, package: Option<&Package>) -> String {
    let names = [device.reference.as_str(), type_number, package.map_or("", |p| p.name)];
    match package.map_or(Body::Dual, |p| p.body) {
        Body::Carrier if device.pins.len().is_multiple_of(4) => carrier(device, names),
        _ => dual(device, names),
    }
}

fn number(n: usize) -> f64 {
    f64::from(u16::try_from(n).unwrap_or(u16::MAX))
}

fn title(names: [&str; 3]) -> String {
    format!("{}, a {} in {}, seen from above", names[0], names[1], names[2])
}

fn inscription(pen: &mut Pen, middle: (f64, f64), names: [&str; 3]) {
    for (i, (look, text)) in [Look::Strong, Look::Plain, Look::Small].into_iter().zip(names).enumerate() {
        pen.text((middle.0, middle.1 - 8.0 + 17.0 * number(i)), Hold::Middle, look, text, 16);
    }
}

/// A dual in-line package: pin 1 at the top left, counted around against the clock.
fn dual(device: &AdapterDevice, names: [&str; 3]) -> String {
    let mut pen = Pen::default();
    let pins = &device.pins;
    let half = pins.len().div_ceil(2);
    let (left, width, top) = (270.0, 150.0, 92.0);
    let height = number(half) * PITCH + 14.0;
    pen.rectangle((left, top), (width, height), 4.0, false);
    // the notch at the end where pin 1 is
    let middle = left + width / 2.0;
    pen.path(&format!("M{} {top} A14 14 0 0 0 {} {top}", middle - 14.0, middle + 14.0), false);
    pen.dot((left + 12.0, top + 7.0), 2.6);
    inscription(&mut pen, (middle, top + height / 2.0), names);
    let mut supply = None;
    for (index, pin) in pins.iter().enumerate() {
        let on_left = index < half;
        let place = if on_left { index } else { pins.len() - 1 - index };
        let y = top + 20.0 + number(place) * PITCH;
        let edge = if on_left { left } else { left + width };
        if matches!(pin.connected, Use::Supply { rail: Rail::Vcc, .. }) && supply.is_none() {
            supply = Some((edge, y, on_left));
        }
        draw_pin(&mut pen, pin, edge, y, on_left);
    }
    if let Some((edge, y, on_left)) = supply {
        capacitor(&mut pen, edge, y, top, on_left, &device.capacitor, &ground_pins(device));
    }
    pen.finish(690.0, top + height + 12.0, &title(names))
}

/// A chip carrier with pins on four sides: pin 1 in the middle of the upper one, counted around against the clock.
fn carrier(device: &AdapterDevice, names: [&str; 3]) -> String {
    let mut pen = Pen::default();
    let side = device.pins.len() / 4;
    let (margin, bevel) = (212.0, 16.0);
    let size = number(side) * PITCH + 40.0;
    let (low, high) = (margin, margin + size);
    pen.path(
        &format!("M{} {low} L{high} {low} L{high} {high} L{low} {high} L{low} {} Z", low + bevel, low + bevel),
        false,
    );
    inscription(&mut pen, (margin + size / 2.0, margin + size / 2.0), names);
    let along = |place: usize| margin + 20.0 + PITCH / 2.0 + number(place) * PITCH;
    let first = side.div_ceil(2);
    for (index, pin) in device.pins.iter().enumerate() {
        // counted from the upper pin of the left side (JEDEC MO-047, from memory)
        let around = (index + 4 * side - first) % (4 * side);
        let (edge, place) = (around / side, around % side);
        match edge {
            0 => draw_pin(&mut pen, pin, low, along(place), true),
            1 => turned(&mut pen, pin, (along(place), high), true),
            2 => draw_pin(&mut pen, pin, high, along(side - 1 - place), false),
            _ => turned(&mut pen, pin, (along(side - 1 - place), low), false),
        }
        if index == 0 {
            pen.dot((along(first - 1), low + 34.0), 3.0);
        }
    }
    pen.finish(2.0 * margin + size, 2.0 * margin + size, &title(names))
}

/// A pin of the lower or upper side, its words read from below to above.
fn turned(pen: &mut Pen, pin: &DevicePin, at: (f64, f64), below: bool) {
    pen.open(at, -90.0);
    draw_pin(pen, pin, 0.0, 0.0, below);
    pen.close();
}

fn ground_pins(device: &AdapterDevice) -> String {
    let is_ground = |p: &&DevicePin| matches!(p.connected, Use::Supply { rail: Rail::Gnd, .. });
    let pins: Vec<String> = device.pins.iter().filter(is_ground).map(|p| p.number.to_string()).collect();
    pins.join(", ")
}

fn draw_pin(pen: &mut Pen, pin: &DevicePin, edge: f64, y: f64, on_left: bool) {
    let out = if on_left { -1.0 } else { 1.0 };
    let (inside, outside) = if on_left { (Hold::Start, Hold::End) } else { (Hold::End, Hold::Start) };
    pen.text((edge - out * 8.0, y + 4.5), inside, Look::Strong, &pin.number.to_string(), 4);
    let leg = edge + out * 10.0;
    pen.thick((edge, y), (leg, y));
    let end = edge + out * WIRE;
    let name_at = |width: f64| (end + out * (width + 8.0), y + 4.5);
    match &pin.connected {
        Use::Wire { label, signal, way, clock } => {
            let width = box_width(label.as_str());
            pen.line((leg, y), (end, y));
            // towards the device on its left side is to the right
            if matches!(way, Way::In | Way::Both) {
                pen.arrow((leg, y), on_left);
            }
            if matches!(way, Way::Out | Way::Both) {
                pen.arrow((end, y), !on_left);
            }
            if *clock {
                let tip = edge - out * 34.0;
                let base = edge - out * 26.0;
                pen.path(&format!("M{base} {} L{tip} {y} L{base} {}", y - 5.0, y + 5.0), false);
            }
            pen.contact((end + out * width / 2.0, y), label.as_str(), false);
            pen.text(name_at(width), outside, Look::Plain, signal, 20);
        }
        Use::Supply { rail, labels } => {
            pen.line((leg, y), (end, y));
            let shown = match labels.as_slice() {
                [] => "?".to_owned(),
                [one] => one.to_string(),
                [first, ..] => format!("{first}…"),
            };
            let width = box_width(&shown);
            pen.contact((end + out * width / 2.0, y), &shown, false);
            let name = match rail {
                Rail::Vcc => "VCC +5 V",
                Rail::Gnd => "GND",
            };
            pen.text(name_at(width), outside, Look::Strong, name, 20);
        }
        Use::Tied(rail) => {
            pen.line((leg, y), (end, y));
            let text = format!("wire to {}", rail_name(*rail));
            pen.text(name_at(-2.0), outside, Look::Strong, &text, 24);
        }
        Use::Port { signal, rest, .. } => {
            pen.line((leg, y), (end, y));
            let held = if *rest == Rest::Open { String::new() } else { format!(", {}", rest.words()) };
            let text = format!("{signal}, programming port{held}");
            pen.text(name_at(-2.0), outside, Look::Small, &text, 38);
        }
        Use::Apart { signal, driven } => {
            cross(pen, leg + out * 6.0, y);
            let text = match (signal, driven) {
                (Some(signal), false) => format!("leave open ({signal} inside)"),
                (Some(signal), true) => format!("driven: leave open ({signal})"),
                (None, _) => "driven: leave open".to_owned(),
            };
            pen.text((leg + out * 16.0, y + 4.0), outside, Look::Small, &text, 38);
        }
        Use::Unused { dedicated, rest } => {
            let text = format!("unused{}: {}, see below", if *dedicated { " input" } else { "" }, rest.words());
            pen.text((leg + out * 6.0, y + 4.0), outside, Look::Small, &text, 38);
        }
    }
}

/// Nothing may be connected here.
fn cross(pen: &mut Pen, x: f64, y: f64) {
    pen.line((x - 4.0, y - 4.0), (x + 4.0, y + 4.0));
    pen.line((x - 4.0, y + 4.0), (x + 4.0, y - 4.0));
}

/// The decoupling capacitor above the supply pin.
fn capacitor(pen: &mut Pen, edge: f64, y: f64, top: f64, on_left: bool, name: &str, ground: &str) {
    let out = if on_left { -1.0 } else { 1.0 };
    let x = edge + out * 24.0;
    let plate = top - 34.0;
    pen.dot((x, y), 2.6);
    pen.line((x, y), (x, plate + 6.0));
    pen.thick((x - 11.0, plate + 6.0), (x + 11.0, plate + 6.0));
    pen.thick((x - 11.0, plate), (x + 11.0, plate));
    pen.line((x, plate), (x, plate - 14.0));
    // ground
    for (i, half) in [9.0, 6.0, 3.0].into_iter().enumerate() {
        let level = plate - 14.0 - 4.0 * f64::from(u8::try_from(i).unwrap_or(0));
        pen.line((x - half, level), (x + half, level));
    }
    let hold = if on_left { Hold::End } else { Hold::Start };
    pen.text((x + out * 18.0, plate - 2.0), hold, Look::Strong, &format!("{name} 100 nF ceramic"), 30);
    let text = format!("to ground pin {ground}, shortest leads");
    pen.text((x + out * 18.0, plate + 13.0), hold, Look::Small, &text, 40);
}
