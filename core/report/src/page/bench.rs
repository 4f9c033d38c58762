//! The bench sheet: programming, checks before the device goes in, first power-up; with boxes to tick and lines to fill.
use maud::{Markup, html};

use crate::Report;
use crate::adapter::{Adapter, Purpose, SocketContact};
use crate::drawing;
use crate::printable::{Name, Printable as P};
use gluewright_analysis::loading::Loading;
use gluewright_kernel::circuit::{Rail, Stage};

pub(super) fn bench(report: &Report<'_>) -> Markup {
    let adapter = Adapter::new(report.devices, report.original, report.kept_pins);
    let rail = |rail: Rail| -> Vec<&SocketContact> {
        adapter.contacts.iter().filter(|c| c.purpose == Purpose::Supply(rail)).collect()
    };
    let (vcc, gnd) = (rail(Rail::Vcc), rail(Rail::Gnd));
    let supply_pins = |rail: Rail| drawing::pins(&adapter.supply_pins(rail));
    let always: Vec<&SocketContact> = adapter
        .contacts
        .iter()
        .filter(|c| matches!(c.purpose, Purpose::Signal { stage: Some(Stage::PushPull), .. }))
        .collect();
    let sitting = sitting(report);
    let is_one = sitting.len() == 1;
    let names = listed(&sitting);
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
                        @if !report.kept.is_empty() { " (" code { "--keep" } " and the same packages, " code { "--device" } " or " code { "--drawer" } " too if they were given)" }
                        @else if report.devices.len() > 1 { " (" code { "--split" } ", and " code { "--device" } " or " code { "--drawer" } " too if they were given)" }
                        @else { " (with " code { "--device" } " or " code { "--drawer" } " if they were given)" }
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
                (step(html! { "Not in the board, its sockets empty (" (names) "). Rung out: every wire of “Every wire”, and no connection between neighbours." }))
                (step(html! {
                    "Supply on the adapter: "
                    (contacts(&vcc)) " to " (supply_pins(Rail::Vcc)) ", " (contacts(&gnd)) " to " (supply_pins(Rail::Gnd))
                    ". Resistance between them, both ways round: " span.blank { } " Ω and " span.blank { } " Ω: below 10 Ω look for a short before anything else (common practice, no source)."
                }))
            }
            h3 { "The adapter alone, on a bench supply" }
            ol.steps {
                (step(html! { "Still not in the board: nothing else may drive the contacts. A bench supply of 5 V with a current limit on the supply contacts, set to 50 mA. " (supply_pins(Rail::Vcc)) " against " (supply_pins(Rail::Gnd)) " measures +4.75 V to +5.25 V: " span.blank { } " V." }))
                (step(html! { "Supply off, discharged. " (seated(&names, is_one)) }))
                (step(html! { "Every contact held as the column “at rest” of the probing sheet says, through its resistor, before the supply is on: an open input of a CMOS part may swing." }))
                (step(html! {
                    "Limit set a little above what " (names) @if is_one { " takes" } @else { " take together" }
                    (limit(report.currents))
                    ". Supply on. Current: " span.blank { } " mA. At the limit: off at once, and look for a short and for two outputs on one net."
                }))
                (step(html! { "Every output at rest as on the probing sheet, held and read as it says there." }))
                (step(html! { "Then its steps, and reset. Edges of clocks from a source without bounce: a generator, or a change-over switch before a set-reset latch of two gates. A bare switch clocks several times." }))
                (step(html! { "After a minute nothing is too hot to keep a finger on. Supply off." }))
            }
            h3 { "In the board, with empty sockets" }
            ol.steps {
                (step(html! { "Power off, plug out, supplies discharged; where mains or high voltage is near, “Before anything else” first. Adapter in its place, its sockets empty." }))
                (step(html! { "Lamps, motors, relays and memories that the card can command are safe: its outputs float now, and a TTL input that floats reads high." }))
                (step(html! { "Supply with a current limit, if it has one. Power on. Current of the board without " (names) ": " span.blank { } " mA." }))
                (step(html! { "Supply: " (supply_pins(Rail::Vcc)) " against " (supply_pins(Rail::Gnd)) " measures +4.75 V to +5.25 V: " span.blank { } " V." }))
                (step(html! { "No contact carries more than the supply, or less than ground by more than 0.1 V: highest " span.blank { } " V, lowest " span.blank { } " V." }))
                @if !always.is_empty() {
                    (step(html! { "Nothing on the board drives what the card will always drive: " (contacts(&always)) ". Each reads low through 1 kΩ to ground and high through 10 kΩ to the supply, if only inputs and pull-ups hang on it." }))
                }
                (step(html! { "Power off, discharged. " (seated(&names, is_one)) }))
            }
            h3 { "First power-up in the board" }
            ol.steps {
                (step(html! { "Limit of the supply set to what the board took with empty sockets plus what " (names) " took on the bench: " span.blank { } " mA." }))
                (step(html! { "Lamps, motors, relays and memories that the card can command are still safe." }))
                (step(html! { "Power on. Current: " span.blank { } " mA. At the limit: power off at once, and look for two outputs on one net." }))
                (step(html! { "Supply at " (supply_pins(Rail::Vcc)) " against " (supply_pins(Rail::Gnd)) ": " span.blank { } " V." }))
                (step(html! { "Contacts that the card drives show levels, none between. The board drives the others now: put nothing on them." }))
                (step(html! { "Works in its place. Date " span.blank { } " name " span.blank { } ". This page goes into the box with the card." }))
            }
        }
    }
}

/// The references of all that sits in the adapter's sockets.
fn sitting<'a>(report: &Report<'a>) -> Vec<&'a str> {
    let devices = report.devices.iter().map(|d| d.reference);
    devices.chain(report.kept.iter().map(|(reference, _)| reference.as_str())).collect()
}

/// `D1, D2 and U3`.
fn listed(all: &[&str]) -> Markup {
    html! {
        @for (i, reference) in all.iter().enumerate() {
            @if i > 0 { @if i + 1 == all.len() { " and " } @else { ", " } }
            (Name(reference))
        }
    }
}

fn seated(names: &Markup, is_one: bool) -> Markup {
    html! {
        @if is_one { (names) " in its socket, pin 1 where the drawing has it." }
        @else { (names) " each in the socket of its reference, pin 1 where the drawing has it; on a device's label is the checksum of its file." }
    }
}

/// What all that sits on the adapter draws at most, as far as it is known.
fn limit(currents: Option<&Loading>) -> Markup {
    let Some(draw) = currents.map(|c| &c.supply_after) else { return html! { " by the sheets of these very parts" } };
    html! {
        @if draw.missing.is_empty() {
            ": at most " (P(&draw.to_string()))
            @if !draw.from_memory.is_empty() { "; what is from memory is to be looked up in the sheet of the very part" }
            @if !draw.grades.is_empty() { "; a part of another grade has its own figure" }
        } @else {
            " by the sheets of these very parts: " span.blank { } " mA (not known here: " (P(&draw.missing.join(", "))) ")"
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
