//! The device as it is seen from above: a dual in-line package, or a square chip carrier with pins on four sides.
use super::pen::{Hold, Look, Pen, box_width};
use crate::circuit::Rail;
use crate::report::adapter::{Adapter, DevicePin, Use, Way, rail_name};

/// Distance of two pins.
const PITCH: f64 = 26.0;
/// Length of a wire between pin and contact.
const WIRE: f64 = 44.0;

/// The device from above, with the contact at each pin. `package` names it: `DIP-24`.
pub fn device(adapter: &Adapter, reference: &str, type_number: &str, package: &str) -> String {
    let mut pen = Pen::default();
    let pins = &adapter.pins;
    let half = pins.len().div_ceil(2);
    let rows = f64::from(u16::try_from(half).unwrap_or(u16::MAX));
    let (left, width, top) = (270.0, 150.0, 92.0);
    let height = rows * PITCH + 14.0;
    pen.rectangle((left, top), (width, height), 4.0, false);
    // the notch at the end where pin 1 is
    let middle = left + width / 2.0;
    pen.path(&format!("M{} {top} A14 14 0 0 0 {} {top}", middle - 14.0, middle + 14.0), false);
    pen.text((middle, top + height / 2.0 - 8.0), Hold::Middle, Look::Strong, reference, 12);
    pen.text((middle, top + height / 2.0 + 10.0), Hold::Middle, Look::Plain, type_number, 16);
    pen.text((middle, top + height / 2.0 + 26.0), Hold::Middle, Look::Small, package, 16);
    let mut supply = None;
    for (index, pin) in pins.iter().enumerate() {
        let on_left = index < half;
        let place = if on_left { index } else { pins.len() - 1 - index };
        let y = top + 20.0 + f64::from(u16::try_from(place).unwrap_or(u16::MAX)) * PITCH;
        let edge = if on_left { left } else { left + width };
        if index == 0 {
            pen.dot((left + 12.0, top + 7.0), 2.6);
        }
        if matches!(pin.connected, Use::Supply { rail: Rail::Vcc, .. }) && supply.is_none() {
            supply = Some((edge, y, on_left));
        }
        draw_pin(&mut pen, pin, edge, y, on_left);
    }
    if let Some((edge, y, on_left)) = supply {
        capacitor(&mut pen, edge, y, top, on_left, &ground_pins(adapter));
    }
    pen.finish(690.0, top + height + 12.0, &format!("{reference}, a {type_number} in {package}, seen from above"))
}

fn ground_pins(adapter: &Adapter) -> String {
    let is_ground = |p: &&DevicePin| matches!(p.connected, Use::Supply { rail: Rail::Gnd, .. });
    let pins: Vec<String> = adapter.pins.iter().filter(is_ground).map(|p| p.number.to_string()).collect();
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
        Use::Port(signal) => {
            pen.line((leg, y), (end, y));
            let text = format!("{signal}, programming port");
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
        Use::Unused { dedicated } => {
            let text = if *dedicated { "unused input, see below" } else { "unused, not driven, see below" };
            pen.text((leg + out * 6.0, y + 4.0), outside, Look::Small, text, 38);
        }
    }
}

/// Nothing may be connected here.
fn cross(pen: &mut Pen, x: f64, y: f64) {
    pen.line((x - 4.0, y - 4.0), (x + 4.0, y + 4.0));
    pen.line((x - 4.0, y + 4.0), (x + 4.0, y - 4.0));
}

/// The decoupling capacitor above the supply pin.
fn capacitor(pen: &mut Pen, edge: f64, y: f64, top: f64, on_left: bool, ground: &str) {
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
    pen.text((x + out * 18.0, plate - 2.0), hold, Look::Strong, "C1 100 nF ceramic", 30);
    let text = format!("to ground pin {ground}, shortest leads");
    pen.text((x + out * 18.0, plate + 13.0), hold, Look::Small, &text, 40);
}
