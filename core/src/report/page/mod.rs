//! The page's frame, its first sheet, and its last: what it is about, and the digests of the files beside it.
mod bench;
mod blocks;
mod evidence;
mod probes;
pub(super) mod refutation;
mod wires;

use maud::{Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use super::Report;
use super::printable::{Name, Printable as P};
use crate::cautions::CAUTIONS;

const STYLE: &str = include_str!("style.css");

/// A policy by which a browser fetches nothing at all for this page.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

pub(super) fn html(report: &Report<'_>) -> String {
    let title = format!("{} in a {}", report.fitted.circuit, report.fitted.device);
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
    let f = report.fitted;
    let chips: Vec<(&str, &str)> = report.board.chips().map(|(reference, part)| (reference, part.name())).collect();
    html! {
        header {
            h1 { "Stand-in for " (Name(report.board.name())) }
            p.lead {
                "A " (f.device) " programmed with " code { (report.fuse_file) } " does the work of "
                (count(chips.len(), "package", "packages"))
                ". It is proved to behave at every contact as the traced original could have behaved; what that means and \
                 what it leaves out stands under “What was proved”."
            }
            table.facts {
                tbody {
                    tr { th { "Circuit" } td { (Name(&f.circuit)) } }
                    tr { th { "Replaces" } td {
                        @for (i, (reference, part)) in chips.iter().enumerate() {
                            @if i > 0 { ", " }
                            span.chip { (Name(reference)) " " (P(part)) }
                        }
                    } }
                    tr { th { "Device" } td {
                        (f.device)
                        @if !f.mode.is_empty() { " in " (f.mode) " mode" }
                        ": " (count(f.cells.len(), "macrocell", "macrocells")) ", "
                        (count(f.term_count(), "product term", "product terms"))
                    } }
                    @if let Some(checksum) = report.checksum {
                        tr { th { "Fuse checksum" } td { code { (format!("{checksum:04X}")) } } }
                    } @else {
                        tr { th { "Netlist" } td { code { (report.fuse_file) } ", for the maker's own fitter" } }
                    }
                    tr { th { "Proved by" } td {
                        "Z3 " (P(&report.source.figures.solver)) ", from the source and again from the "
                        @if report.checksum.is_some() { "fuse file" } @else { "Verilog file" } " as written"
                    } }
                    tr { th { "Assumptions" } td {
                        @if report.source.assumptions.is_empty() { "none" }
                        @for (i, a) in report.source.assumptions.iter().enumerate() { @if i > 0 { "; " } (P(a)) }
                    } }
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

fn files(report: &Report<'_>) -> Markup {
    html! {
        section {
            h2 { "Files that belong to this page" }
            p { "SHA-256 digests of all other files in the folder. A file whose digest differs is not the one that was proved." }
            table.digests {
                thead { tr { th { "File" } th.number { "Bytes" } th { "SHA-256" } } }
                tbody {
                    @for (name, bytes) in report.files {
                        tr { td { code { (P(name)) } } td.number { (bytes.len()) } td { code { (digest(bytes)) } } }
                    }
                }
            }
            p.foot { "Written by Gluewright " (env!("CARGO_PKG_VERSION")) "." }
        }
    }
}

/// SHA-256 in hexadecimal digits (FIPS 180-4).
pub(super) fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// `1 package`, `6 packages`.
fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}
