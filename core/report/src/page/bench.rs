//! The bench sheet: programming, checks before the device goes in, first power-up; with boxes to tick and lines to fill.
use maud::{Markup, html};

use crate::adapter::{Adapter, Purpose, SocketContact};
use crate::drawing;
use crate::printable::{Name, Printable as P};
use crate::{Report, Seated};
use gluewright_devices::device::{Figure, Provenance};
use gluewright_kernel::circuit::{Label, Rail, Stage};

pub(super) fn bench(report: &Report<'_>) -> Markup {
    let adapter = Adapter::new(report.devices, report.original, report.kept_pins);
    let rail = |rail: Rail| -> Vec<&SocketContact> {
        adapter.contacts.iter().filter(|c| c.purpose == Purpose::Supply(rail)).collect()
    };
    let (vcc, gnd) = (rail(Rail::Vcc), rail(Rail::Gnd));
    let device_pins = |rail: Rail| -> String {
        let pins = |s: &Seated<'_>| -> Vec<(String, Label)> {
            let on = s.fitted.supplies.iter().filter(|supply| supply.rail == rail);
            on.map(|supply| (s.reference.to_owned(), Label::from(supply.pin))).collect()
        };
        let all: Vec<(String, Label)> = report.devices.iter().flat_map(pins).collect();
        drawing::pins(&all)
    };
    let always: Vec<&SocketContact> = adapter
        .contacts
        .iter()
        .filter(|c| matches!(c.purpose, Purpose::Signal { stage: Some(Stage::PushPull), .. }))
        .collect();
    // one device without a figure, and the sum would be too small
    let currents: Option<Vec<Figure>> = report.devices.iter().map(|s| s.device.supply_current(s.grade)).collect();
    // a figure that nobody looked up is no sheet's
    let says = |all: &[Figure]| match all.iter().any(|f| f.from == Provenance::Memory) {
        true => ", from memory: look it up in the sheet of the very part",
        false => "",
    };
    let current = currents.map(|all| (all.iter().map(|f| f.value).sum::<f64>(), says(&all)));
    let is_graded = report.devices.iter().all(|s| s.grade.is_some() || s.device.grades.len() == 1);
    let grade = match report.safe_grade {
        Some(grade) => format!("the chapter on times finds {grade} the slowest that is safe"),
        None => "no grade is known to be safe by the chapter on times: decide there first".to_owned(),
    };
    html! {
        section.sheet {
            h2 { "Bench sheet" }
            h3 { "Program" }
            ol.steps {
                @for d in report.devices {
                    @match &d.device.part {
                        Some(part) => (step(html! {
                            (Name(d.reference)) ": " strong { (P(&part.to_string())) }
                            " from the drawer" @if let [only] = d.device.grades.as_slice() { ", " (only.name) }
                            ": read it on the package. (" (grade) ".) Chosen exactly so in the programmer."
                        })),
                        None => (step(html! { (Name(d.reference)) ": maker and full type of the part: " span.blank.long { } " grade: " span.blank { } " (" (grade) "); chosen exactly so in the programmer." }))
                    }
                }
                (step(html! { "A part that was used before: read it, and keep what it held." }))
                (step(html! { "Blank check passed." }))
                @for d in report.devices {
                    @if let Some(checksum) = d.checksum {
                        (step(html! { (Name(d.reference)) ": " code { (P(d.file)) } " loaded; the programmer shows the fuse checksum " strong { code { (format!("{checksum:04X}")) } } " (some show one over the whole memory of theirs, which differs)." }))
                    } @else {
                        (step(html! { (Name(d.reference)) ": " code { (P(d.file)) } " given to the maker's fitter with all pins locked as there; its report compared: pins, equations, power-up levels, unused pins. Its programming file loaded; checksum " span.blank { } "." }))
                    }
                }
                (step(html! { "Programmed. Security fuse left alone, so that the next repairer can read the part." }))
                (step(html! { "Verified against the file after programming, at both supply limits if the programmer can." }))
                @if report.devices.iter().any(|d| d.checksum.is_some()) {
                    (step(html! { "Test vectors of the file run by the programmer, none failed (if it takes vectors)." }))
                    (step(html! {
                        @if report.devices.len() > 1 { "Every part read into a file of its own" } @else { "Part read into a file" }
                        ", and this job run as before"
                        @if !report.kept.is_empty() { " (" code { "--keep" } " and the same packages)" }
                        @else if report.devices.len() > 1 { " (" code { "--split" } ")" }
                        " with " code { "--readback" }
                        @if report.devices.len() > 1 {
                            " and these files, " (P(&report.devices.iter().map(|d| d.reference).collect::<Vec<_>>().join(", "))) " in this order"
                        } @else { " and that file" }
                        ": every fuse as written, proved again."
                    }))
                }
                (step(html! {
                    "Labelled with name, reference and checksum: "
                    @for (i, d) in report.devices.iter().enumerate() {
                        @if i > 0 { "; " }
                        (Name(report.name)) " " (Name(d.reference)) " "
                        @match d.checksum { Some(checksum) => code { (format!("{checksum:04X}")) }, None => span.blank { } }
                    }
                    "."
                }))
            }
            h3 { "The adapter alone, cold" }
            ol.steps {
                (step(html! { "Not in the board, no device in it. Rung out: every wire of “Every wire”, and no connection between neighbours." }))
                (step(html! {
                    "Supply on the adapter: "
                    (contacts(&vcc)) " to " (device_pins(Rail::Vcc)) ", " (contacts(&gnd)) " to " (device_pins(Rail::Gnd))
                    ". Resistance between them, both ways round: " span.blank { } " Ω and " span.blank { } " Ω, no short."
                }))
            }
            h3 { "The adapter alone, on a bench supply" }
            ol.steps {
                (step(html! { "Still not in the board: nothing else may drive the contacts. A bench supply of 5 V with a current limit on the supply contacts, set to 50 mA. " (device_pins(Rail::Vcc)) " against " (device_pins(Rail::Gnd)) " measures +4.75 V to +5.25 V: " span.blank { } " V." }))
                (step(html! { "Supply off, discharged. Device in, pin 1 where the drawing has it." }))
                (step(html! {
                    "Limit set a little above "
                    @match current {
                        Some((ma, says)) if is_graded => { "what the device takes (at most " (format!("{ma:.0}")) " mA in this grade" (says) ")" }
                        Some((ma, says)) => { "what the device takes (at most " (format!("{ma:.0}")) " mA for any grade listed here" (says) ")" }
                        None => { "what the sheet of this grade says" }
                    }
                    ". Supply on. Current: " span.blank { } " mA. At the limit: off at once, and look for a short and for two outputs on one net."
                }))
                (step(html! { "Every output at rest as on the probing sheet, held and read as it says there." }))
                (step(html! { "Then its steps, and reset. Edges of clocks from a source without bounce: a generator, or a change-over switch before a set-reset latch of two gates. A bare switch clocks several times." }))
                (step(html! { "After a minute the device is at most warm. Supply off." }))
            }
            h3 { "In the board, without the device" }
            ol.steps {
                (step(html! { "Power off, plug out, supplies discharged. Adapter in its place, no device in it." }))
                (step(html! { "Power on: " (device_pins(Rail::Vcc)) " against " (device_pins(Rail::Gnd)) " measures +4.75 V to +5.25 V: " span.blank { } " V." }))
                (step(html! { "No contact carries more than the supply or less than ground: highest " span.blank { } " V, lowest " span.blank { } " V." }))
                @if !always.is_empty() {
                    (step(html! { "Nothing on the board drives what the device will always drive: " (contacts(&always)) "." }))
                }
                (step(html! { "Power off, discharged. Device in, pin 1 where the drawing has it." }))
            }
            h3 { "First power-up in the board" }
            ol.steps {
                (step(html! { "Limit of the supply set to what the board takes without the device plus what the device took on the bench: " span.blank { } " mA." }))
                (step(html! { "Lamps, motors, relays and memories that the card can command are safe." }))
                (step(html! { "Power on. Current: " span.blank { } " mA. At the limit: power off at once, and look for two outputs on one net." }))
                (step(html! { "Supply at the device's pins: " span.blank { } " V." }))
                (step(html! { "Contacts that the card drives show levels, none between. The board drives the others now: put nothing on them." }))
                (step(html! { "Works in its place. Date " span.blank { } " name " span.blank { } ". This page goes into the box with the card." }))
            }
        }
    }
}

fn step(text: Markup) -> Markup {
    html! { li { span.box { } " " (text) } }
}

fn contacts(all: &[&SocketContact]) -> Markup {
    html! {
        @match all {
            [] => "the supply contact (the trace names none: find it)",
            [one] => { "contact " (Name(&one.label)) " (" (Name(&one.signal)) ")" }
            several => {
                "contacts "
                @for (i, c) in several.iter().enumerate() { @if i > 0 { ", " } (Name(&c.label)) " (" (Name(&c.signal)) ")" }
            }
        }
    }
}
