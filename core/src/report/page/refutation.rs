//! The page of a refutation: the run as a waveform, where to probe, what would mend it. Nothing on it is to be burned.
use maud::{Markup, PreEscaped, html};

use super::frame;
use crate::explain::Explanation;
use crate::report::printable::{Name, Printable as P};

pub(in crate::report) fn html(explanation: &Explanation, mends: &[String]) -> String {
    let title = format!("{} is refuted", explanation.replacement);
    frame(&title, &body(explanation, mends))
}

fn body(explanation: &Explanation, mends: &[String]) -> Markup {
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
                    "A dashed row is held by a resistor only, a dotted one by nothing. A box stands around what differs."
                    @if explanation.shortest { " No shorter run shows it." }
                }
            }
        }
        section {
            h2 { "What to do at the bench, and why it happens" }
            pre { (P(explanation.text())) }
        }
        section {
            h2 { "What would mend it" }
            @if mends.is_empty() {
                p { "No single change was found that makes the two equal: look at the causes above, and at the trace." }
            } @else {
                ul { @for mend in mends { li { (P(mend)) } } }
                p.note { "Each was proved. Choose the one that is true of the card, not the one that is easiest." }
            }
        }
    }
}
