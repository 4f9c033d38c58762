//! The page's frame, its first sheet, and its last: what it is about, and the digests of the files beside it.
mod bench;
mod blocks;
mod evidence;
mod meter;
mod probes;
pub(super) mod refutation;
mod wires;

pub(crate) use meter::resistance;

use gluewright_kernel::digest::sha256;
use maud::{Markup, PreEscaped, html};

use super::printable::{Name, Printable as P};
use super::{Report, Seated};
use crate::cautions::CAUTIONS;

const STYLE: &str = include_str!("style.css");

/// A policy by which a browser fetches nothing at all for this page.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

pub(super) fn html(report: &Report<'_>) -> String {
    let types: Vec<&str> = report.devices.iter().map(|d| d.fitted.device).collect();
    let title = format!("{} in {}", report.name, types.join(", "));
    let body = html! {
        (first(report))
        (wires::wires(report))
        (bench::bench(report))
        (probes::probes(report))
        (evidence::equations(report))
        (evidence::proofs(report))
        @for chapter in report.chapters { (blocks::chapter(chapter)) }
        (files(report))
    };
    frame(&title, &body)
}

/// A whole page around this body.
fn frame(title: &str, body: &Markup) -> String {
    let page = html! {
        (PreEscaped("<!DOCTYPE html>\n"))
        html xmlns="http://www.w3.org/1999/xhtml" lang="en" {
            head {
                (PreEscaped("<meta charset=\"utf-8\"/>"))
                (PreEscaped(format!("<meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\"/>")))
                (PreEscaped("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>"))
                title { (P(title)) }
                style { (PreEscaped(STYLE)) }
            }
            body { (body) }
        }
    };
    page.into_string()
}

fn first(report: &Report<'_>) -> Markup {
    let kept = |reference: &str| report.kept.iter().any(|(r, _)| r == reference);
    let chips: Vec<(&str, &str)> =
        report.board.chips().map(|(reference, part)| (reference, part.name())).filter(|(r, _)| !kept(r)).collect();
    let stay: Vec<(&str, &str)> = report.kept.iter().map(|(r, p)| (r.as_str(), p.as_str())).collect();
    let netlist = report.devices.iter().any(|d| d.checksum.is_none());
    let assumptions = report.source.map_or(&report.fuses.assumptions, |s| &s.assumptions);
    html! {
        header {
            h1 { "Stand-in " (Name(report.name)) }
            p.lead {
                @match report.devices {
                    [one] if netlist => { "A " (one.fitted.device) " made from " code { (P(one.file)) } " by its maker's fitter does" },
                    [one] => { "A " (one.fitted.device) " programmed with " code { (P(one.file)) } " does" },
                    several => { (count(several.len(), "device", "devices")) " do" },
                }
                " the work of " (count(chips.len(), "package", "packages"))
                @if !stay.is_empty() { "; " (count(stay.len(), "package is kept", "packages are kept")) }
                @if netlist { ". What the fitter makes of that file is not proved: compare its report" }
                @if report.fuses.is_whole() {
                    ". It is proved to behave at every contact as the traced original could have behaved; what that \
                     means and what it leaves out stands under “What was proved”."
                } @else {
                    ". " strong { "It is proved in part only:" } " at the contacts that are covered it behaves as the \
                     traced original could have behaved. What is not traced can't be covered."
                }
            }
            @if !report.fuses.is_whole() {
                div.warning {
                    p { strong { "Not covered by any proof:" } }
                    ul {
                        @for left in &report.fuses.left_out { li { "contact " (P(left)) } }
                        @for gap in &report.fuses.untraced { li { "not traced: " (P(gap)) } }
                    }
                }
            }
            table.facts {
                tbody {
                    tr { th { "Circuit" } td { (Name(report.name)) } }
                    tr { th { "Traced card" } td { (Name(report.board.name())) } }
                    tr { th { "Replaces" } td { (packages(&chips)) } }
                    @if !stay.is_empty() { tr { th { "Kept" } td { (packages(&stay)) ": on the adapter with the device, taken from the card or, if that is lost, others of these types" } } }
                    @for d in report.devices {
                        tr { th { "Device " (Name(d.reference)) } td { (device(d)) } }
                    }
                    tr { th { "Proved by" } td {
                        "Z3 " (P(&report.fuses.figures.solver)) ", "
                        @if report.source.is_some() { "from the source and again " }
                        "from the " @if netlist { "Verilog file" } @else { (if report.devices.len() == 1 { "fuse file" } else { "fuse files" }) } " as written"
                    } }
                    tr { th { "Assumptions" } td {
                        @if assumptions.is_empty() { "none" }
                        @for (i, a) in assumptions.iter().enumerate() { @if i > 0 { "; " } (P(a)) }
                    } }
                    @let left_open = report.source.map_or(&report.fuses.acknowledged, |s| &s.acknowledged).len();
                    @if left_open > 0 {
                        tr { th { "Left open by delays" } td {
                            (count(left_open, "place", "places")) ", acknowledged by name; see “What was proved”"
                        } }
                    }
                    tr { th { "Date, name" } td {
                        @match report.date { Some(date) => (P(date)), None => span.blank.long { } }
                    } }
                }
            }
        }
        section.cautions {
            h2 { "Before anything else" }
            ul {
                @for caution in CAUTIONS { li { strong { (caution.rule) } " " (caution.why) } }
            }
        }
    }
}

fn packages(all: &[(&str, &str)]) -> Markup {
    html! {
        @for (i, (reference, part)) in all.iter().enumerate() {
            @if i > 0 { ", " }
            span.chip { (Name(reference)) " " (P(part)) }
        }
    }
}

fn device(seated: &Seated<'_>) -> Markup {
    let f = seated.fitted;
    html! {
        (f.device)
        @if let Some(part) = &seated.device.part { " (" (P(&part.to_string())) ")" }
        @if !f.mode.is_empty() { " in " (f.mode) " mode" }
        ", " (count(f.cells.len(), "macrocell", "macrocells")) ", "
        (count(f.term_count(), "product term", "product terms")) "; " code { (P(seated.file)) }
        @match seated.checksum {
            Some(checksum) => { ", fuse checksum " strong { code { (format!("{checksum:04X}")) } } },
            None => ", a netlist for the maker's own fitter",
        }
        @if !f.plan.signature.is_empty() { ", user signature " code { (f.plan.signature.escape_ascii().to_string()) } }
    }
}

fn files(report: &Report<'_>) -> Markup {
    html! {
        section {
            h2 { "Files that belong to this page" }
            p { "SHA-256 digests of all other files in the folder. A file whose digest differs is not the one that was proved." }
            table.digests {
                thead { tr { th { "File" } th.number { "Bytes" } th { "SHA-256" } } }
                tbody {
                    @for (name, bytes) in report.files {
                        tr { td { code { (P(name)) } } td.number { (bytes.len()) } td { code { (sha256(bytes)) } } }
                    }
                }
            }
            p.foot { "Written by Gluewright " (env!("CARGO_PKG_VERSION")) "." }
        }
    }
}

/// `1 package`, `6 packages`.
fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}
