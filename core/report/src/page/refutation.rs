//! The page of a refutation: the run as a waveform, where to probe, what would mend it. Nothing on it is to be burned.
use maud::{Markup, PreEscaped, html};

use super::frame;
use crate::printable::{Name, Printable as P, Prose};
use gluewright_analysis::mend::Mends;
use gluewright_kernel::circuit::Origin;
use gluewright_kernel::explain::text::{place, sequence};
use gluewright_kernel::explain::{Cause, Explanation, Probe};

pub(crate) fn html(explanation: &Explanation, mends: Option<&Mends>) -> String {
    let title = format!("{} is refuted", explanation.replacement);
    frame(&title, &body(explanation, mends))
}

/// The page that says that an earlier one is over.
pub(crate) fn nothing(circuit: &str) -> String {
    let body = html! {
        header {
            h1 { "Nothing is refuted: " (Name(circuit)) " is proved" }
            p.lead {
                "An earlier run was refuted and left its page here. Since then the circuit has been proved; its folder has the \
                 report and the files."
            }
        }
    };
    frame(&format!("{circuit} is proved"), &body)
}

fn body(explanation: &Explanation, mends: Option<&Mends>) -> Markup {
    html! {
        header {
            h1 { (Name(&explanation.replacement)) " is refuted" }
            p.lead {
                "It does not behave as the original " (Name(&explanation.original)) " does. "
                strong { "Nothing was written for a programmer; don't burn an earlier file in its place." }
            }
        }
        section {
            h2 { "Where the two differ" }
            figure {
                (PreEscaped(explanation.svg()))
                figcaption {
                    "A box stands around what differs."
                    @if explanation.shortest { " No shorter run shows it." }
                    @if !explanation.orders.is_empty() {
                        " Changes come in this order here, by typical delays or as it was acknowledged: "
                        (P(&explanation.orders.join("; "))) ". In another order the original may show it."
                    }
                }
            }
        }
        section {
            h2 { "What to do at the bench" }
            @if let Some(begins) = &explanation.begins { p { (Prose(begins)) } }
            @for assumed in &explanation.assumptions { p { "Assuming " (Prose(assumed)) "." } }
            ol.steps {
                li value="0" { (Prose(sentence(&explanation.power_up()))) }
                @for event in &explanation.events {
                    li {
                        @for (i, (label, name, high)) in event.changes.iter().enumerate() {
                            @if i > 0 { ", at the same moment " }
                            (if i == 0 { "Contact " } else { "contact " }) (Name(label)) " " (Name(name)) " goes " strong { (level(*high)) }
                        }
                        "."
                    }
                }
            }
            @if let Some(rest) = explanation.rest() { p { (rest) } }
            @if !explanation.chances.is_empty() {
                p { "It rests on what nobody knows of the replacement, and so counts against it:" }
                ul { @for chance in &explanation.chances { li { (Prose(chance)) } } }
            }
        }
        @for found in &explanation.probes { (probe(found, !explanation.events.is_empty())) }
        @if let Some(mends) = mends {
            section {
                h2 { "What would mend it" }
                @if mends.found.is_empty() {
                    p {
                        @if mends.cut_short || mends.undecided > 0 { "None was found: " } @else { "No single change of these kinds makes the two equal: " }
                        (mends.tried()) " tried."
                        @if let Some(open) = mends.left_open() { " " (open) }
                    }
                    ul { @for kind in mends.kinds.iter().chain(&mends.trace_kinds) { li { (kind) } } }
                    p.note { (mends.not_tried()) }
                    @if let Some(agreeing) = mends.agreeing() { p { (agreeing) } }
                    @if !mends.parts().is_empty() {
                        ul { @for part in mends.parts() { li { (Prose(part)) } } }
                    }
                } @else {
                    @let [named, own, trace] = mends.by_place();
                    @if !named.is_empty() {
                        p { "Of the trace, and its own check speaks for it:" }
                        ul { @for mend in named { li { (Prose(mend)) } } }
                    }
                    @if own.is_empty() {
                        p { "No single change of the source of those that were tried." }
                    } @else {
                        ul { @for mend in own { li { (Prose(mend)) } } }
                    }
                    @if !trace.is_empty() {
                        p { "Or, if the source is right and the trace is not:" }
                        ul { @for mend in trace { li { (Prose(mend)) } } }
                    }
                    p.note { "Each was proved. Choose the one that is true of the card, not the one that is easiest." }
                    @for said in [mends.beyond(), mends.left_open()].into_iter().flatten() { p.note { (said) } }
                }
            }
        }
    }
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut rest = text.chars();
    rest.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), rest.as_str()))
}

fn level(high: bool) -> &'static str {
    if high { "high" } else { "low" }
}

/// Where to put the probe, what to expect, and why.
fn probe(probe: &Probe, has_steps: bool) -> Markup {
    html! {
        section.probe {
            h2 { (if has_steps { "In the last step, put the probe on" } else { "Before power comes on, put the probe on" }) }
            ul { @for at in &probe.places { li { strong { (P(place(at))) } } } }
            table.facts {
                tbody {
                    tr { th { "The original is" } td { (probe.expected(has_steps)) } }
                    tr { th { "The replacement is" } td { (sequence(&probe.replacement, has_steps)) } }
                }
            }
            @for (side, why) in [("original", &probe.original_why), ("replacement", &probe.replacement_why)] {
                @if !why.is_empty() {
                    h3 { "Why, in the " (side) }
                    @for cause in why { (link(cause)) }
                }
            }
            @if let Some(decision) = &probe.decision {
                h3 { "Who is right?" }
                p { (Prose(&decision.measure)) }
                ul { @for (seen, then) in &decision.outcomes { li { (P(seen)) ": " (P(then)) } } }
            }
        }
    }
}

fn link(cause: &Cause) -> Markup {
    html! {
        p.cause style=(format!("margin-left: {}em", cause.depth.min(12) * 2)) {
            (Prose(&cause.text))
            @if cause.origin != Origin::Nowhere { " " span.origin { "[" (P(&cause.origin)) "]" } }
        }
    }
}
