//! Where the wires go: drawings of device and socket, the table of all contacts, the parts beside the device.
use maud::{Markup, PreEscaped, html};

use crate::circuit::{Polarity, Rail, Stage};
use crate::report::Report;
use crate::report::adapter::{Adapter, Purpose, SocketContact, Use, advice};
use crate::report::drawing;
use crate::report::printable::{Name, Printable as P};

pub(super) fn wires(report: &Report<'_>) -> Markup {
    let adapter = Adapter::new(report.fitted, report.device, report.original);
    let dip = report.device.packages.first();
    let other = report.device.packages.iter().skip(1);
    let package = dip.map_or("", |p| p.name);
    let used: Vec<&SocketContact> = adapter.contacts.iter().filter(|c| c.purpose != Purpose::Missing).collect();
    let unused: Vec<String> = adapter
        .pins
        .iter()
        .filter(|p| matches!(p.connected, Use::Unused { dedicated: true }))
        .map(|p| p.number.to_string())
        .collect();
    let silent: Vec<String> = adapter
        .pins
        .iter()
        .filter(|p| matches!(p.connected, Use::Unused { dedicated: false }))
        .map(|p| p.number.to_string())
        .collect();
    let apart: Vec<(u16, &Option<String>, bool)> = adapter
        .pins
        .iter()
        .filter_map(|p| match &p.connected {
            Use::Apart { signal, driven } => Some((p.number, signal, *driven)),
            _ => None,
        })
        .collect();
    html! {
        section.sheet {
            h2 { "Where the wires go" }
            figure {
                (PreEscaped(drawing::device(&adapter, "U1", report.fitted.device, package)))
                figcaption { "U1 seen from above. At each pin the contact of the socket, in a box, and its signal. An arrow that points at the device is an input." }
            }
            h3 { "Pins without a wire" }
            @if unused.is_empty() && silent.is_empty() && apart.is_empty() && report.fitted.port.is_empty() { p { "None." } }
            ul {
                @for (pin, signal, driven) in &apart {
                    li {
                        "Pin " (pin)
                        @if let Some(signal) = signal { " belongs to " (Name(signal)) ", which stays inside the device:" }
                        @if *driven { " the device drives it. Connect it to nothing, not even to ground." }
                        @else { " leave it open." }
                    }
                }
                @for port in &report.fitted.port { li { "Pin " (port.pin) " is " (port.signal) " of the programming port: lead it to the programmer's plug and nowhere else." } }
                @if !unused.is_empty() { li { "Inputs without a signal: " (unused.join(", ")) "." } }
                @if !silent.is_empty() { li {
                    @if report.device.blocks.is_none() { "Macrocells without a signal, never driven: " }
                    @else { "Macrocells without a signal: " }
                    (silent.join(", ")) "."
                } }
                @if !unused.is_empty() || !silent.is_empty() {
                    @for text in advice(report.device) { li { (P(text)) } }
                }
            }
        }
        section.sheet {
            h2 { "The socket, contact by contact" }
            figure {
                (PreEscaped(drawing::socket(&adapter, "U1")))
                figcaption { "In the order of the labels; where a contact sits on the card is not in the trace. A dashed box is left open." }
            }
        }
        section {
            h2 { "Every wire" }
            table.wires {
                thead { tr {
                    th { "Contact" } th { "Signal" } th { "On the card" } th { "Way" } th { "Meaning" } th { "Stage" }
                    th.number { (package) }
                    @for p in other.clone() { th.number { (p.name) } }
                    th { "Done" }
                } }
                tbody {
                    @for c in &used {
                        tr {
                            th { (Name(&c.label)) }
                            td { (Name(&c.signal)) }
                            td { (Name(&c.net)) }
                            td { (direction(c)) }
                            td { (meaning(c)) }
                            td { (stage(c)) }
                            td.number { @if c.pins.is_empty() { "open" } @else { (pins(&c.pins)) } }
                            @for p in other.clone() {
                                td.number { (pins(&c.pins.iter().filter_map(|&n| p.of_dip.get(usize::from(n).checked_sub(1)?).copied()).collect::<Vec<_>>())) }
                            }
                            td { span.box { } }
                        }
                    }
                }
            }
            p.note {
                "The file wiring.csv holds the same list. “Low is true” means that the signal says yes while the contact is low."
                @if report.device.packages.len() > 1 { " Check the pins of any other package against the sheet of the very maker." }
            }
            @if !adapter.beside.is_empty() {
                table {
                    caption { "Parts on the adapter beside U1" }
                    thead { tr { th { "Part" } th { "What" } th { "Between" } th { "Why" } } }
                    tbody { @for b in &adapter.beside {
                        tr { th { (b.reference) } td { (P(&b.part)) } td { (P(&b.between)) } td { (b.why) } }
                    } }
                }
            }
        }
    }
}

fn pins(pins: &[u16]) -> String {
    pins.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

fn direction(contact: &SocketContact) -> &'static str {
    match contact.purpose {
        Purpose::Signal { way, .. } => way.words(),
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
        Purpose::Idle | Purpose::Missing => "",
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
