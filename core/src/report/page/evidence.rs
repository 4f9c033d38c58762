//! What the device computes, what was proved about it, and what stays open.
use maud::{Markup, html};

use crate::emit::equation_list;
use crate::prove::Proof;
use crate::report::Report;
use crate::report::printable::{Name, Printable as P};

pub(super) fn equations(report: &Report<'_>) -> Markup {
    let f = report.fitted;
    html! {
        section {
            h2 { "What it computes" }
            p { "∧ is and, ∨ is or, ¬ is not. A name that is low when true stands for its truth, not for its level. The file equations.txt says the same." }
            @for e in equation_list(f) {
                div.equation {
                    pre { (P(&e.text)) }
                    p.about {
                        @for (i, about) in e.about.iter().enumerate() { @if i > 0 { "; " } (P(about)) }
                    }
                }
            }
            @if !f.notes.is_empty() {
                h3 { "To know about the fit" }
                ul { @for note in &f.notes { li { (P(note)) } } }
            }
        }
    }
}

pub(super) fn proofs(report: &Report<'_>) -> Markup {
    let (source, fuses) = (report.source, report.fuses);
    html! {
        section {
            h2 { "What was proved" }
            p {
                "For every initial level of the contacts, every start of the stand-in and every sequence of allowed events, \
                 some run of the original " (Name(&source.original)) " shows the same at every contact: the same level where \
                 it drives, floating where it floats, the same pulses; and what the original does not drive is never driven."
            }
            p {
                "This is about settled logic with one event at a time. Gate delays, noise, drive strength, metastability, \
                 damaged parts and mistakes in the trace are not in it."
            }
            table {
                thead { tr { th { "Of" } th { "Verdict" } th { "Solver" } th.number { "Kinds of events" } th.number { "Questions to the solver" } th.number { "Closed by structure" } } }
                tbody {
                    (verdict("the source", source))
                    (verdict("the fuse file as written", fuses))
                }
            }
            h3 { "Assumed about the board" }
            (list(&source.assumptions, "Nothing: the board may put any levels on the contacts, one change at a time."))
            h3 { "Unknowns of the original that were settled in the stand-in's favour" }
            (list(&both(&source.unknowns, &fuses.unknowns), "None."))
            h3 { "How the bits correspond" }
            (list(&source.matches, "There is nothing to match: neither side holds a bit."))
        }
        section {
            h2 { "What stays open" }
            h3 { "Found by the proofs" }
            (list(&both(&source.findings, &fuses.findings), "Nothing."))
            h3 { "Found in the trace, at the contacts and in the fuse file" }
            (list(report.findings, "Nothing."))
        }
    }
}

fn verdict(of: &str, proof: &Proof) -> Markup {
    let g = &proof.figures;
    html! {
        tr { th { (of) } td { "proved" } td { "Z3 " (P(&g.solver)) } td.number { (g.events) } td.number { (g.questions) } td.number { (g.structural) } }
    }
}

fn list(items: &[String], none: &str) -> Markup {
    html! {
        @if items.is_empty() { p { (none) } } @else { ul { @for item in items { li { (P(item)) } } } }
    }
}

fn both(a: &[String], b: &[String]) -> Vec<String> {
    let mut all = a.to_vec();
    all.extend(b.iter().filter(|x| !a.contains(x)).cloned());
    all
}
