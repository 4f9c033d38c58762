//! The probing sheet as a table: a row for each contact, a column for each moment.
use maud::{Markup, html};

use super::meter;
use crate::Report;
use crate::printable::{Name, Printable as P};
use crate::probing::{Coverage, Expect, Probing, Reading, Row};
use gluewright_kernel::circuit::{Direction, Polarity};

pub(super) fn probes(report: &Report<'_>) -> Markup {
    let sheet = report.probing;
    html! {
        section.sheet.wide {
            h2 { "What to find at the contacts" }
            p {
                "What every start of the original agrees on, found by running it with all registers unknown. "
                strong { "●" } " marks what a step changes. A level in brackets is what the burned device shows where the \
                 original could show either. ▸ is a level that you put on the contact; at a \
                 two-way contact the word after it is what the card does there."
            }
            @for first in (0..sheet.moments.len()).step_by(COLUMNS) { (table(sheet, first)) }
            @if let Some(coverage) = &sheet.coverage { (faults(coverage)) }
            p { "For all steps:" }
            ul {
                li { "Read every contact at every step, those too that you hold: a contact that does not show the level that you give it is shorted, or on a pin that drives it. A wire without a contact is read at each of its pins." }
                @for remark in &sheet.remarks { li { (P(remark)) } }
                @for line in meter::lines(report.currents) { li { (P(&line)) } }
                li { "Put levels on contacts through these resistors, and only on the bench or where the board doesn't drive." }
            }
        }
    }
}

/// So many moments stand side by side: what a page holds.
const COLUMNS: usize = 10;

/// The moments from this one on that stand side by side: what is done, and what is found then.
fn table(sheet: &Probing, first: usize) -> Markup {
    let moments = || sheet.moments.iter().skip(first).take(COLUMNS);
    html! {
        dl.actions {
            @for moment in moments().filter(|m| !m.actions.is_empty()) {
                dt { (P(&moment.title)) }
                dd { @for (i, action) in moment.actions.iter().enumerate() { @if i > 0 { "; then " } (P(action)) } }
            }
        }
        table.probes {
            thead { tr {
                th { "Contact" }
                @for moment in moments() { th { (P(&moment.title)) } }
            } }
            tbody {
                @for (index, row) in sheet.rows.iter().enumerate() {
                    tr {
                        th { (Name(&row.label)) " " span.name { (Name(&row.name)) } }
                        @for moment in moments() {
                            @match moment.readings.get(index) {
                                Some(reading) => (cell(row, *reading)),
                                None => td { },
                            }
                        }
                    }
                }
                @for wire in &sheet.wires {
                    tr {
                        th { (Name(&wire.name)) " " span.name { (P(&wire.pins)) } }
                        @for shows in wire.shows.iter().skip(first).take(COLUMNS) { td { (shows.to_string()) } }
                    }
                }
            }
        }
    }
}

fn cell(row: &Row, reading: Reading) -> Markup {
    let mark = if reading.changed { "● " } else { "" };
    let applied = |high: bool| if high { "high" } else { "low" };
    let class = match (reading.changed, row.direction) {
        (true, _) => "changed",
        (false, Direction::Input) => "given",
        (false, _) => "",
    };
    let given = reading.applied.filter(|_| row.direction != Direction::Output);
    html! {
        td class=(class) {
            (mark)
            @match (row.direction, given) {
                (Direction::Input, Some(high)) => { "▸ " (applied(high)) (truth(row.polarity, high)) }
                (Direction::Input, None) => "as it is",
                (_, given) => {
                    @if let (Some(high), Expect::Floating(_)) = (given, reading.original) { "▸ " (applied(high)) ", " }
                    (reading.original.to_string())
                    @if !reading.original.is_known() && reading.device.is_known() { " (" (reading.device.to_string()) ")" }
                }
            }
        }
    }
}

fn truth(polarity: Polarity, high: bool) -> &'static str {
    match (polarity, high) {
        (Polarity::ActiveLow, false) | (Polarity::ActiveHigh, true) => ", true",
        _ => "",
    }
}

/// Which faults of the adapter the steps find, and how to look for the others.
fn faults(coverage: &Coverage) -> Markup {
    html! {
        p { (P(&coverage.words())) }
        @if !coverage.missed.is_empty() {
            p { "No step finds these. Check each while no supply is on and no device is in:" }
            ul {
                @for missed in coverage.missed.iter().take(LISTED) { li { (P(&missed.fault)) ": " (P(&missed.check)) } }
                @if let Some(more) = coverage.missed.len().checked_sub(LISTED).filter(|n| *n > 0) {
                    li { (more) " more, which the first check of the bench sheet finds too: ring out every wire of the wiring list." }
                }
            }
        }
    }
}

/// So many faults that no step finds are listed.
const LISTED: usize = 60;
