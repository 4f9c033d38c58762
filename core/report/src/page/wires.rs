//! Where the wires go: drawings of device and socket, the table of all contacts, the parts beside the device.
use maud::{Markup, PreEscaped, html};

use crate::adapter::{Adapter, AdapterDevice, Purpose, Rest, SocketContact, Use, advice};
use crate::build::{self, Side};
use crate::drawing;
use crate::printable::{Name, Printable as P};
use crate::{Report, Seated};
use gluewright_devices::device::{Package, PortRest};
use gluewright_kernel::circuit::{Label, Polarity, Rail, Stage};

pub(super) fn wires(report: &Report<'_>) -> Markup {
    let adapter = Adapter::new(report.devices, report.original, report.kept_pins);
    let used: Vec<&SocketContact> = adapter.contacts.iter().filter(|c| c.purpose != Purpose::Missing).collect();
    let one = match report.devices {
        [one] if report.kept.is_empty() => Some(one),
        _ => None,
    };
    let packages = one.map_or(&[][..], |s| s.device.packages.as_slice());
    html! {
        @for (seated, device) in report.devices.iter().zip(&adapter.devices) { (device_sheet(seated, device)) }
        section.sheet {
            h2 { "The socket, contact by contact" }
            figure {
                (PreEscaped(drawing::socket(&adapter)))
                figcaption { "In the order of the labels; where a contact sits on the card is not in the trace. A dashed box is left open." }
            }
        }
        @if let Some(layout) = report.layout {
            section.sheet {
                h2 { "The adapter from both sides" }
                p { "Contacts stand in the order of their labels: where they sit on the card is not in the trace. Packages are drawn as dual in-line; of any other take the places of the pins from the sheet of its socket. A wire has at both its ends the contact and the name of its net. adapter_wires.csv has each wire with its length (nominal, so measure before you cut), adapter_parts.csv the parts, adapter.ipc the same as a netlist (IPC-D-356A) for a layout program." }
                @for side in [Side::Components, Side::Wires] {
                    figure {
                        (PreEscaped(build::drawing(layout, side)))
                        figcaption { @match side {
                            Side::Components => "From the component side.",
                            Side::Wires => "From the wiring side: left and right are exchanged.",
                        } }
                    }
                }
            }
        }
        section {
            h2 { "Every wire" }
            @if !adapter.beside.is_empty() {
                table {
                    caption { "Parts and ties on the adapter beside " (beside_what(report)) }
                    thead { tr { th { "Part" } th { "What" } th { "Between" } th { "Why" } th { "Done" } } }
                    tbody { @for b in &adapter.beside {
                        tr { th { (b.reference) } td { (P(&b.part)) } td { (P(&b.between)) } td { (b.why) } td { span.box { } } }
                    } }
                }
            }
            table.wires {
                thead { tr {
                    th { "Contact" } th { "Signal" } th { "On the card" } th { "Way" } th { "Meaning" } th { "Stage" }
                    @if one.is_some() { @for p in packages { th.number { (p.name) } } } @else { th { "Pins" } }
                    th { "Done" }
                } }
                tbody {
                    @for c in &used {
                        tr {
                            th { (Name(&c.label)) }
                            td { (Name(&c.signal)) }
                            td { (Name(&c.net)) }
                            td.short { (direction(c)) }
                            td.short { (meaning(c)) }
                            td.short { (stage(c)) }
                            @if one.is_some() {
                                @for p in packages { td.number { (pins_on(c, p)) } }
                            } @else {
                                td { (P(drawing::pins(&c.pins))) }
                            }
                            td { span.box { } }
                        }
                    }
                }
            }
            p.note {
                "The file wiring.csv holds the contacts, adapter_wires.csv every piece of wire, those of the parts and ties too. Its lengths are nominal: measure before you cut. “Low is true” means that the signal says yes while the contact is low."
                @if packages.len() > 1 { " Check the pins of any other package against the sheet of the very maker." }
            }
        }
    }
}

fn beside_what(report: &Report<'_>) -> String {
    let kept = report.kept.iter().map(|(reference, _)| reference.as_str());
    report.devices.iter().map(|d| d.reference).chain(kept).collect::<Vec<_>>().join(", ")
}

/// The pins of a contact as a package of the device counts them.
fn pins_on(contact: &SocketContact, package: &Package) -> String {
    let of = |(_, pin): &(String, Label)| {
        let index = usize::from(pin.number()?).checked_sub(1)?;
        package.of_dip.get(index).map(u16::to_string)
    };
    let pins: Vec<String> = contact.pins.iter().filter_map(of).collect();
    if pins.is_empty() { "open".to_owned() } else { pins.join(", ") }
}

/// One device from above, and what to do with its pins that have no wire.
fn device_sheet(seated: &Seated<'_>, device: &AdapterDevice) -> Markup {
    let package = seated.device.packages.first();
    let without = |wanted: bool| -> Vec<String> {
        let held = device.pins.iter().filter_map(|p| match p.connected {
            Use::Unused { dedicated, rest } if dedicated == wanted => Some(format!("{} ({})", p.number, rest.words())),
            _ => None,
        });
        held.collect()
    };
    let (unused, silent) = (without(true), without(false));
    let apart: Vec<(u16, &Option<String>, bool)> = device
        .pins
        .iter()
        .filter_map(|p| match &p.connected {
            Use::Apart { signal, driven } => Some((p.number, signal, *driven)),
            _ => None,
        })
        .collect();
    html! {
        section.sheet {
            h2 { "Where the wires of " (Name(seated.reference)) " go" }
            figure {
                (PreEscaped(drawing::device(device, seated.fitted.device, package)))
                figcaption { (Name(seated.reference)) " seen from above. At each pin the contact of the socket, in a box, and its signal. An arrow that points at the device is an input." }
            }
            h3 { "Pins without a wire" }
            @if unused.is_empty() && silent.is_empty() && apart.is_empty() && seated.fitted.port.is_empty() { p { "None." } }
            ul {
                @for (pin, signal, driven) in &apart {
                    li {
                        "Pin " (pin)
                        @if let Some(signal) = signal { " belongs to " (Name(signal)) ", which stays inside the device:" }
                        @if *driven { " the device drives it. Connect it to nothing, not even to ground." }
                        @else { " leave it open." }
                    }
                }
                @for pin in &device.pins {
                    @if let Use::Port { signal, level, rest } = pin.connected {
                        li { "Pin " (pin.number) " is " (signal) " of the programming port: lead it to the programmer's plug" (held(level, rest)) }
                    }
                }
                @if !seated.fitted.port.is_empty() { li {
                    "Without these resistors the port's inputs float once the plug is gone, and the device can leave its work. The maker's sheet may ask for other values, or for none where it pulls them up inside: that rule goes first."
                } }
                @if !unused.is_empty() { li { "Inputs without a signal: " (unused.join(", ")) "." } }
                @if !silent.is_empty() { li {
                    @if seated.device.blocks.is_none() { "Macrocells without a signal, never driven: " }
                    @else { "Macrocells without a signal: " }
                    (silent.join(", ")) "."
                } }
                @for text in advice(seated.device, !unused.is_empty(), !silent.is_empty()) { li { (P(text)) } }
            }
        }
    }
}

fn direction(contact: &SocketContact) -> &'static str {
    match contact.purpose {
        Purpose::Signal { way, .. } => way.words(),
        Purpose::Between(_) => "inside",
        Purpose::Kept => "package that stays",
        Purpose::Supply(_) => "supply",
        Purpose::Idle => "not used",
        Purpose::Missing => "",
    }
}

fn meaning(contact: &SocketContact) -> &'static str {
    match contact.purpose {
        Purpose::Signal { polarity, .. } => match polarity {
            Polarity::ActiveLow => "low is true",
            Polarity::ActiveHigh => "high is true",
            Polarity::Data => "data",
            Polarity::Clock => "clock",
        },
        Purpose::Supply(Rail::Vcc) => "positive",
        Purpose::Supply(Rail::Gnd) => "ground",
        Purpose::Between(_) | Purpose::Kept | Purpose::Idle | Purpose::Missing => "",
    }
}

fn stage(contact: &SocketContact) -> &'static str {
    match contact.purpose {
        Purpose::Signal { stage: Some(stage), .. } => match stage {
            Stage::PushPull => "push-pull",
            Stage::ThreeState => "three-state",
            Stage::OpenCollector => "open collector",
        },
        _ => "",
    }
}

/// What else hangs on a pin of the programming port.
fn held(level: PortRest, rest: Rest) -> String {
    let why = match level {
        PortRest::High => "an open one counts as high by IEEE 1149.1",
        PortRest::Low => "common practice, no source",
        PortRest::Output => return " and nowhere else: it is an output.".to_owned(),
    };
    format!(", and through {} ({why}).", rest.words())
}
