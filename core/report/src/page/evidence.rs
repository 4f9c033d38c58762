//! What the device computes, what was proved about it, and what stays open.
use maud::{Markup, html};

use crate::Report;
use crate::printable::{Name, Printable as P, Prose};
use gluewright_devices::emit::equation_list;
use gluewright_kernel::prove::{Held, How, Method, Proof};

pub(super) fn equations(report: &Report<'_>) -> Markup {
    html! {
        section {
            h2 { "What it computes" }
            p { "∧ is and, ∨ is or, ¬ is not. A name that is low when true stands for its truth, not for its level. The file equations.txt says the same." }
            @for seated in report.devices {
                @if report.devices.len() > 1 { h3 { "In " (Name(seated.reference)) } }
                @for e in equation_list(seated.fitted) {
                    div.equation {
                        pre { (P(&e.text)) }
                        p.about {
                            @for (i, about) in e.about.iter().enumerate() { @if i > 0 { "; " } (P(about)) }
                        }
                    }
                }
                @if !seated.fitted.notes.is_empty() {
                    h3 { "To know about the fit" }
                    ul { @for note in &seated.fitted.notes { li { (Prose(note)) } } }
                }
            }
        }
    }
}

pub(super) fn proofs(report: &Report<'_>) -> Markup {
    let (source, fuses) = (report.source, report.fuses);
    let first = source.unwrap_or(fuses);
    let written = if report.devices.iter().any(|d| d.checksum.is_none()) {
        "the Verilog file as written"
    } else {
        "what was read back from the files as written"
    };
    html! {
        section {
            h2 { "What was proved" }
            p {
                "For every initial level of the contacts, every start of the stand-in and every sequence of allowed events, \
                 some run of the original " (Name(&first.original)) " shows the same at every contact: the same level where \
                 it drives, floating where it floats, the same pulses; and what the original does not drive is never driven."
            }
            p {
                "One event comes at a time, and all settles before the next. Gate delays may be anything: where the outcome hangs on \
                 them, the place is named below. Noise, drive strength, metastability, damaged parts and mistakes in the trace are \
                 not in it."
            }
            table {
                thead { tr { th { "Of" } th { "Verdict" } th { "Solver" } th.number { "Kinds of events" } th.number { "Questions to the solver" } th.number { "Answered by truth tables" } th.number { "Closed by structure" } } }
                tbody {
                    @if let Some(source) = source { (verdict("the source", source)) }
                    (verdict(written, fuses))
                }
            }
            @if !fuses.is_whole() {
                h3 { "Not covered" }
                (list(&prefixed("contact ", &fuses.left_out).chain(prefixed("not traced: ", &fuses.untraced)).collect::<Vec<_>>(), ""))
            }
            h3 { "Assumed about the board" }
            (list(&first.assumptions, "Nothing: the board may put any levels on the contacts, one change at a time."))
            h3 { "Unknowns of the original that were settled in the stand-in's favour" }
            (list(&both(&first.unknowns, &fuses.unknowns), "None."))
            @if !first.typical.is_empty() || !fuses.typical.is_empty() {
                h3 { "Decided by typical delays of the original's parts" }
                p { "Cause and effect leave open which change comes first here. The proof holds while the delays of the original keep within the bounds named." }
                (list(&both(&words(&first.typical), &words(&fuses.typical)), ""))
            }
            @if !first.acknowledged.is_empty() || !first.races.is_empty() {
                h3 { "Left open by delays, and acknowledged by name" }
                p { "Nothing decides how these turn out. Whoever acknowledged them has looked at them: they decide whether the stand-in works there." }
                (list(&first.acknowledged, "Nothing by name."))
                (list(&words(&first.races), ""))
            }
            h3 { "How the bits correspond" }
            @match first.method {
                Method::Induction => (list(&first.matches, "There is nothing to match: neither side holds a bit.")),
                Method::Walk { places } => p {
                    "No bits correspond throughout: all states were visited, " (places) " of them, each with the states of the original that show the same."
                },
            }
        }
        @if !report.properties.is_empty() { (properties(report.properties)) }
        section {
            h2 { "What stays open" }
            h3 { "Found by the proofs" }
            (list(&both(&first.findings, &fuses.findings), "Nothing."))
            h3 { "Found in the trace, at the contacts and in the fuse file" }
            (list(report.findings, "Nothing."))
        }
    }
}

/// What was proved of the source by itself.
fn properties(all: &[Held]) -> Markup {
    html! {
        section {
            h2 { "What the source keeps by itself" }
            p { "Stated by whoever wrote the source, and proved of the source alone, not of what was read back from the files." }
            table {
                thead { tr { th { "Property" } th { "Verdict" } th { "Assuming" } th { "To know" } } }
                tbody {
                    @for held in all {
                        tr {
                            td { (Prose(&held.property)) }
                            td { (if matches!(held.how, How::Reached(_)) { "reached" } else { "proved" }) ", " (held.how) }
                            td { (list(&held.assumptions, "nothing")) }
                            td {
                                (list(&words(&held.cases), ""))
                                (list(&held.acknowledged.iter().map(|a| format!("acknowledged: `{a}`")).collect::<Vec<_>>(), ""))
                                (list(&words(&held.typical), ""))
                                (list(&held.findings, ""))
                            }
                        }
                    }
                }
            }
        }
    }
}

fn words(all: &[impl ToString]) -> Vec<String> {
    all.iter().map(ToString::to_string).collect()
}

fn verdict(of: &str, proof: &Proof) -> Markup {
    let g = &proof.figures;
    html! {
        tr { th { (of) } td { @if proof.is_whole() { "proved" } @else { "proved in part" } (proof.by_typical()) } td { "Z3 " (P(&g.solver)) } td.number { (g.events) } td.number { (g.questions) } td.number { (g.tables) } td.number { (g.structural) } }
    }
}

fn list(items: &[String], none: &str) -> Markup {
    html! {
        @if items.is_empty() { @if !none.is_empty() { p { (none) } } } @else { ul { @for item in items { li { (Prose(item)) } } } }
    }
}

fn prefixed<'a>(word: &'a str, items: &'a [String]) -> impl Iterator<Item = String> + 'a {
    items.iter().map(move |item| format!("{word}{item}"))
}

fn both(a: &[String], b: &[String]) -> Vec<String> {
    let mut all = a.to_vec();
    all.extend(b.iter().filter(|x| !a.contains(x)).cloned());
    all
}
